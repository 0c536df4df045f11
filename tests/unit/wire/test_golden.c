/* Golden frames in tests/golden/wire: NAME.hex holds the frames of one record (or one control
 * frame), one a line; NAME.txt says what they mean, with the message as `protoc --decode` prints
 * it from proto/ridgepost.proto. With an argument, writes the files to that folder instead; what
 * it writes is read by a person before it is kept. With two folders, the second one receives the
 * same frames and records as a corpus (frame_open/, record_decode/). */
#include "rp_test.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "base/bytes.h"
#include "ridgepost/error.h"
#include "rp_hex.h"
#include "support_record.h"
#include "wire/frame.h"
#include "wire/record.h"
#include "wire/seal.h"
#include "wire/split.h"

#define GOLDEN_DIR RP_SOURCE_DIR "/tests/golden/wire"
#define PLAIN_MAX  100 /* so that the longer examples take several segments */
#define FRAMES_MAX 8
#define EPOCH      1

static const uint8_t secret[RP_SECRET_LEN] = "tsergang-secret";

static const char *const messages[] = {
    [RP_REC_STATION] = "StationCard",   [RP_REC_EPISODE] = "EpisodeOpened",
    [RP_REC_BACKGROUND] = "Background", [RP_REC_STATUS] = "Status",
    [RP_REC_TREATMENT] = "Treatment",   [RP_REC_OXYGEN] = "Oxygen",
    [RP_REC_CHAMBER] = "ChamberEvent",  [RP_REC_REASSESS] = "Reassessment",
    [RP_REC_DESCENT] = "Descent",       [RP_REC_NOTE] = "Note",
    [RP_REC_EVACUATION] = "Evacuation", [RP_REC_EVAC_CANCEL] = "EvacuationCancelled",
    [RP_REC_ANSWER] = "Answer",         [RP_REC_READBACK] = "ReadBack",
    [RP_REC_RECEIPT] = "Receipt",       [RP_REC_HANDOVER] = "HandoverTaken",
    [RP_REC_CORRECTION] = "Correction", [RP_REC_CLOSE] = "EpisodeClosed",
    [RP_REC_CLOCK] = "ClockNote",       [RP_REC_ALARM] = "AlarmAnswered",
    [RP_REC_PUMPING] = "Pumping",       [RP_REC_STOCK] = "DrugStock",
    [RP_REC_FLUIDS] = "Fluids",
};

/* Control frames; what their bodies mean is no business of the seal. */
static const struct {
    const char *name, *body;
    struct rp_frame_head head;
} controls[] = {
    {"control_digest",
     "5eed1e57016e360030406432",
     {.kind = RP_FRAME_DIGEST, .origin = RIDGE, .counter = 65537}},
    {"control_vector",
     "0e2a1405081107",
     {.kind = RP_FRAME_VECTOR, .origin = MORAINE, .counter = 258}},
    {"control_request",
     "0402e50e",
     {.kind = RP_FRAME_REQUEST, .origin = LAKE, .counter = 16777215}},
    /* Held are 9 of station 7 and all below; base holds 7.42 up to 9, 4.7 up to 300. */
    {"control_ack",
     "87250e2a090807ac02",
     {.kind = RP_FRAME_REQUEST, .origin = LAKE, .counter = 70}},
};
#define CONTROL_COUNT (sizeof controls / sizeof controls[0])

struct frames {
    size_t count;
    size_t len[FRAMES_MAX];
    uint8_t bytes[FRAMES_MAX][RP_FRAME_LEN_MAX];
};

struct text {
    char at[8192];
    size_t len;
};

static void add(struct text *text, const char *more)
{
    size_t len = strlen(more);
    assert_true(text->len + len < sizeof text->at);
    memcpy(text->at + text->len, more, len + 1);
    text->len += len;
}

static void file_path(char out[4096], const char *folder, const char *name, const char *ending)
{
    assert_true(snprintf(out, 4096, "%s/%s.%s", folder, name, ending) < 4096);
}

static void file_read(const char *name, const char *ending, struct text *out)
{
    char path[4096];
    file_path(path, GOLDEN_DIR, name, ending);
    FILE *file = fopen(path, "r");
    if (file == NULL) {
        fail_msg("no %s", path);
    }
    out->len = fread(out->at, 1, sizeof out->at - 1, file);
    out->at[out->len] = '\0';
    fclose(file);
}

static void golden_frames(const char *name, struct frames *out)
{
    struct text text;
    file_read(name, "hex", &text);
    out->count = 0;
    for (char *line = strtok(text.at, "\n"); line != NULL; line = strtok(NULL, "\n")) {
        assert_true(out->count < FRAMES_MAX);
        out->len[out->count] = rp_hex_read(line, out->bytes[out->count], RP_FRAME_LEN_MAX);
        assert_int_equal(out->len[out->count] * 2, strlen(line));
        out->count++;
    }
    assert_true(out->count > 0);
}

static void seal_example(const struct example *example, struct frames *out)
{
    static struct rp_seal seal;
    uint8_t bytes[RP_RECORD_LEN_MAX];
    rp_seal_init(&seal, secret, EPOCH);
    int len = rp_record_encode(&example->record, bytes, sizeof bytes, NULL);
    assert_true(len > 0);
    struct rp_view record = rp_view_of(bytes, (size_t)len);
    /* One of them travels with a base mark: base holds all but the last two. */
    bool marked = example->record.kind == RP_REC_REASSESS && example->seq > 2;
    out->count = (size_t)rp_record_segments(record.len, PLAIN_MAX);
    assert_in_range(out->count, 1, FRAMES_MAX);
    for (size_t i = 0; i < out->count; i++) {
        uint8_t plain[PLAIN_MAX];
        struct rp_frame_head head = {.first = i == 0,
                                     .last = i + 1 == out->count,
                                     .origin = example->origin,
                                     .counter = example->seq + (uint32_t)i};
        struct rp_trailer trailer = {.station = rp_origin_station(example->origin),
                                     .named = 4,
                                     .counter = (uint8_t)((example->seq + i) % 16),
                                     .promise = i == 0 ? 5 : 0};
        len = rp_record_split(record, PLAIN_MAX, i, plain, sizeof plain);
        assert_true(len > 0);
        len = rp_frame_seal(&seal, &head, rp_view_of(plain, (size_t)len), out->bytes[i],
                            RP_FRAME_LEN_MAX);
        assert_true(len > 0);
        trailer.marked = marked;
        if (marked) {
            struct rp_mark mark = {2,
                                   rp_seal_proof(&seal, EPOCH, example->origin, head.counter - 2)};
            rp_mark_write(&mark, out->bytes[i] + len);
            len += RP_MARK_LEN;
        }
        rp_trailer_write(&trailer, out->bytes[i] + len);
        out->len[i] = (size_t)len + RP_TRAILER_LEN;
    }
}

static void seal_control(size_t row, struct frames *out)
{
    static struct rp_seal seal;
    uint8_t body[64];
    rp_seal_init(&seal, secret, EPOCH);
    size_t len = rp_hex_read(controls[row].body, body, sizeof body);
    int n = rp_frame_seal(&seal, &controls[row].head, rp_view_of(body, len), out->bytes[0],
                          RP_FRAME_LEN_MAX);
    assert_true(n > 0);
    out->count = 1;
    out->len[0] = (size_t)n;
}

static size_t sealed_len(const struct frames *frames, size_t i)
{
    bool segment = (frames->bytes[i][0] & 0x30) == 0;
    struct rp_view frame = rp_view_of(frames->bytes[i], frames->len[i]);
    return segment ? rp_segment_sealed_len(frame) : frame.len;
}

/* The message in words, by the schema's own compiler. */
static void add_message(const char *message, struct rp_view bytes, struct text *out)
{
    char name[] = "/tmp/rp-golden-XXXXXX", command[4096], line[512];
    int fd = mkstemp(name);
    assert_true(fd >= 0);
    assert_int_equal(write(fd, bytes.bytes, bytes.len), (ssize_t)bytes.len);
    close(fd);
    assert_true(snprintf(command, sizeof command,
                         "'%s' --decode=ridgepost.%s -I '%s/proto' ridgepost.proto < '%s'",
                         RP_PROTOC, message, RP_SOURCE_DIR, name) < (int)sizeof command);
    FILE *pipe = popen(command, "r");
    assert_non_null(pipe);
    while (fgets(line, sizeof line, pipe) != NULL) {
        add(out, line);
    }
    assert_int_equal(pclose(pipe), 0);
    unlink(name);
}

static void add_frame(const struct rp_frame_head *head, struct rp_view frame, struct text *out)
{
    static const char *const kinds[] = {"segment", "digest", "vector", "request"};
    char line[256];
    struct rp_trailer t;
    snprintf(line, sizeof line, "%s: epoch %u, origin %u.%u, counter %u%s%s\n", kinds[head->kind],
             head->epoch, rp_origin_station(head->origin), head->origin & RP_GENERATION_MAX,
             head->counter, head->first ? ", first" : "", head->last ? ", last" : "");
    add(out, line);
    if (head->kind == RP_FRAME_SEGMENT) {
        assert_int_equal(rp_trailer_read(frame, &t), 0);
        snprintf(line, sizeof line,
                 "trailer: station %u, previous %u, named %u, retransmission %u, counter %u, "
                 "hops %u, promise %u\n",
                 t.station, t.previous, t.named, t.retransmission, t.counter, t.hops, t.promise);
        add(out, line);
        struct rp_mark mark;
        if (t.marked) {
            assert_true(rp_mark_read(frame, &mark));
            snprintf(line, sizeof line, "mark: back %u, proof %u\n", mark.back, mark.proof);
            add(out, line);
        }
    }
}

static void add_record(struct rp_view bytes, struct text *out)
{
    char line[128];
    struct rp_reader r = rp_reader_on(bytes);
    struct rp_lead lead = rp_lead_unpack(rp_get_u8(&r));
    snprintf(line, sizeof line, "record: %s%s%s%s\n", rp_record_kind_word(lead.kind),
             lead.urgent ? ", urgent" : "", lead.exercise ? ", exercise" : "",
             lead.unsynced ? ", unsynchronised" : "");
    add(out, line);
    if (lead.kind == RP_REC_STATUS) {
        snprintf(line, sizeof line, "stream: %u\n", rp_get_u8(&r));
        add(out, line);
    }
    snprintf(line, sizeof line, "time: %u\n%s:\n", (unsigned)rp_get_varint(&r, UINT32_MAX),
             messages[lead.kind]);
    add(out, line);
    assert_false(r.failed);
    add_message(messages[lead.kind], rp_view_of(bytes.bytes + r.at, bytes.len - r.at), out);
}

/* Opens frames, puts the record together and says what it is. */
static void describe(const struct frames *frames, struct text *out)
{
    static struct rp_seal seal;
    uint8_t record[RP_RECORD_LEN_MAX], plain[RP_FRAME_LEN_MAX];
    struct rp_frame_head head;
    int len = 0;
    rp_seal_init(&seal, secret, EPOCH);
    out->len = 0;
    for (size_t i = 0; i < frames->count; i++) {
        int n = rp_frame_open(&seal, rp_view_of(frames->bytes[i], sealed_len(frames, i)), &head,
                              plain, sizeof plain);
        assert_true(n > 0);
        add_frame(&head, rp_view_of(frames->bytes[i], frames->len[i]), out);
        if (head.kind != RP_FRAME_SEGMENT) {
            char body[2 * RP_FRAME_LEN_MAX + 1];
            rp_hex_write(plain, (size_t)n, body);
            add(out, "body: ");
            add(out, body);
            add(out, "\n");
            return;
        }
        len = rp_record_join(record, sizeof record, (size_t)len, rp_view_of(plain, (size_t)n));
        assert_true(len > 0);
    }
    add_record(rp_view_of(record, (size_t)len), out);
}

static void check_golden(const char *name, const struct frames *made)
{
    struct frames golden;
    struct text want, got;
    golden_frames(name, &golden);
    assert_int_equal(made->count, golden.count);
    for (size_t i = 0; i < golden.count; i++) {
        assert_int_equal(made->len[i], golden.len[i]);
        assert_memory_equal(made->bytes[i], golden.bytes[i], golden.len[i]);
    }
    file_read(name, "txt", &want);
    describe(&golden, &got);
    assert_string_equal(got.at, want.at);
}

static void records_are_as_kept(void **state)
{
    (void)state;
    bool seen[RP_REC_LAST + 1] = {false};
    for (size_t i = 0; i < EXAMPLE_COUNT; i++) {
        struct frames made;
        seal_example(&examples[i], &made);
        check_golden(examples[i].name, &made);
        seen[examples[i].record.kind] = true;
    }
    for (int kind = 1; kind <= RP_REC_LAST; kind++) {
        assert_true(seen[kind]);
    }
}

static void control_frames_are_as_kept(void **state)
{
    (void)state;
    for (size_t i = 0; i < CONTROL_COUNT; i++) {
        struct frames made;
        seal_control(i, &made);
        check_golden(controls[i].name, &made);
    }
}

/* One bit wrong anywhere in the sealed part, or one byte more or less: refused. */
static void check_flips(const char *name)
{
    static struct rp_seal seal;
    struct frames golden;
    struct rp_frame_head head;
    uint8_t plain[RP_FRAME_LEN_MAX];
    rp_seal_init(&seal, secret, EPOCH);
    golden_frames(name, &golden);
    for (size_t i = 0; i < golden.count; i++) {
        uint8_t *bytes = golden.bytes[i];
        size_t len = sealed_len(&golden, i);
        assert_true(rp_frame_open(&seal, rp_view_of(bytes, len), &head, plain, sizeof plain) > 0);
        for (size_t bit = 0; bit < 8 * len; bit++) {
            bytes[bit / 8] ^= (uint8_t)(1 << bit % 8);
            int rc = rp_frame_open(&seal, rp_view_of(bytes, len), &head, plain, sizeof plain);
            assert_true(rc == RP_E_AUTH || rc == RP_E_VERSION || rc == RP_E_FORMAT);
            bytes[bit / 8] ^= (uint8_t)(1 << bit % 8);
        }
        bytes[len] = 0;
        assert_int_equal(
            rp_frame_open(&seal, rp_view_of(bytes, len + 1), &head, plain, sizeof plain),
            RP_E_AUTH);
        assert_int_equal(
            rp_frame_open(&seal, rp_view_of(bytes, len - 1), &head, plain, sizeof plain),
            RP_E_AUTH);
    }
}

static void every_flipped_bit_is_refused(void **state)
{
    (void)state;
    for (size_t i = 0; i < EXAMPLE_COUNT; i++) {
        check_flips(examples[i].name);
    }
    for (size_t i = 0; i < CONTROL_COUNT; i++) {
        check_flips(controls[i].name);
    }
}

static void write_case(const char *folder, const char *name, const struct frames *frames)
{
    char path[4096], hex[2 * RP_FRAME_LEN_MAX + 1];
    struct text text;
    file_path(path, folder, name, "hex");
    FILE *file = fopen(path, "w");
    assert_non_null(file);
    for (size_t i = 0; i < frames->count; i++) {
        rp_hex_write(frames->bytes[i], frames->len[i], hex);
        fprintf(file, "%s\n", hex);
    }
    fclose(file);
    describe(frames, &text);
    file_path(path, folder, name, "txt");
    file = fopen(path, "w");
    assert_non_null(file);
    fputs(text.at, file);
    fclose(file);
}

static void write_bytes(const char *folder, const char *name, const char *ending,
                        struct rp_view bytes)
{
    char path[4096];
    file_path(path, folder, name, ending);
    FILE *file = fopen(path, "wb");
    assert_non_null(file);
    assert_int_equal(fwrite(bytes.bytes, 1, bytes.len, file), bytes.len);
    fclose(file);
}

static void write_corpus(const char *folder)
{
    char frame_folder[2048], record_folder[2048];
    snprintf(frame_folder, sizeof frame_folder, "%s/frame_open", folder);
    snprintf(record_folder, sizeof record_folder, "%s/record_decode", folder);
    struct frames frames;
    for (size_t i = 0; i < EXAMPLE_COUNT; i++) {
        uint8_t record[RP_RECORD_LEN_MAX];
        int len = rp_record_encode(&examples[i].record, record, sizeof record, NULL);
        assert_true(len > 0);
        write_bytes(record_folder, examples[i].name, "bin", rp_view_of(record, (size_t)len));
    }
    for (size_t i = 0; i < CONTROL_COUNT; i++) {
        seal_control(i, &frames);
        write_bytes(frame_folder, controls[i].name, "bin",
                    rp_view_of(frames.bytes[0], frames.len[0]));
    }
    seal_example(&examples[3], &frames);
    write_bytes(frame_folder, examples[3].name, "bin", rp_view_of(frames.bytes[0], frames.len[0]));
}

static void write_golden(const char *folder)
{
    struct frames frames;
    for (size_t i = 0; i < EXAMPLE_COUNT; i++) {
        seal_example(&examples[i], &frames);
        write_case(folder, examples[i].name, &frames);
    }
    for (size_t i = 0; i < CONTROL_COUNT; i++) {
        seal_control(i, &frames);
        write_case(folder, controls[i].name, &frames);
    }
}

int main(int argc, char **argv)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(records_are_as_kept),
        cmocka_unit_test(control_frames_are_as_kept),
        cmocka_unit_test(every_flipped_bit_is_refused),
    };
    if (argc >= 2) {
        write_golden(argv[1]);
        if (argc == 3) {
            write_corpus(argv[2]);
        }
        return 0;
    }
    return cmocka_run_group_tests(tests, NULL, NULL);
}
