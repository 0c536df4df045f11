#include "port/files/netfile.h"

#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

#include "port/files/config.h"

/* The file's values before they are narrowed and checked by rp_net_check. */
struct raw {
    char name[RP_NAME_LEN + 1];
    char secret[2 * RP_SECRET_LEN + 1];
    char band[RP_BAND_WORD_LEN + 1];
    int64_t epoch, frequency_hz, bandwidth_hz, spreading_factor, coding_rate, sync_word, power_dbm,
        preamble_symbols, text_armour, frame_len_max, duty_permille, urgent_reserve_pct;
};

#define NUMBER(section_, name_, min_, max_, example_)                                              \
    {                                                                                              \
        .section = section_, .name = #name_, .type = RP_CONFIG_NUMBER,                             \
        .offset = offsetof(struct raw, name_), .min = min_, .max = max_, .example = example_       \
    }

static const struct rp_config_key keys[] = {
    {.section = "net",
     .name = "name",
     .type = RP_CONFIG_TEXT,
     .offset = offsetof(struct raw, name),
     .size = RP_NAME_LEN + 1,
     .min = 1,
     .max = RP_NAME_LEN,
     .required = true,
     .example = "Karu Ri"},
    {.section = "net",
     .name = "secret",
     .type = RP_CONFIG_TEXT,
     .offset = offsetof(struct raw, secret),
     .size = 2 * RP_SECRET_LEN + 1,
     .min = 2 * RP_SECRET_LEN,
     .max = 2 * RP_SECRET_LEN,
     .required = true,
     .example = "the 32 digits that ridgepost net make wrote"},
    NUMBER("net", epoch, 0, 3, "0"),
    {.section = "radio",
     .name = "band",
     .type = RP_CONFIG_TEXT,
     .offset = offsetof(struct raw, band),
     .size = RP_BAND_WORD_LEN + 1,
     .min = 1,
     .max = RP_BAND_WORD_LEN,
     .example = "eu-p"},
    NUMBER("radio", frequency_hz, 137000000, 1020000000, "869525000"),
    NUMBER("radio", bandwidth_hz, 125000, 500000, "125000"),
    NUMBER("radio", spreading_factor, 5, 12, "9"),
    NUMBER("radio", coding_rate, 5, 8, "5"),
    NUMBER("radio", sync_word, 0, 255, "0x12"),
    NUMBER("radio", power_dbm, -3, 22, "14"),
    NUMBER("radio", preamble_symbols, 6, 65535, "8"),
    NUMBER("radio", text_armour, 0, 1, "1"),
    NUMBER("radio", frame_len_max, 60, RP_FRAME_LEN_MAX, "120"),
    NUMBER("radio", duty_permille, 1, 1000, "10"),
    NUMBER("radio", urgent_reserve_pct, 0, 90, "30"),
};

static void widen(const struct rp_net *net, struct raw *raw)
{
    *raw = (struct raw){
        .epoch = net->epoch,
        .frequency_hz = net->profile.freq_hz,
        .bandwidth_hz = net->profile.bandwidth_hz,
        .spreading_factor = net->profile.spreading_factor,
        .coding_rate = net->profile.coding_rate,
        .sync_word = net->profile.sync_word,
        .power_dbm = net->profile.power_dbm,
        .preamble_symbols = net->profile.preamble_symbols,
        .text_armour = net->profile.text_armour,
        .frame_len_max = net->frame_len_max,
        .duty_permille = net->duty_permille,
        .urgent_reserve_pct = net->urgent_reserve_pct,
    };
    memcpy(raw->name, net->name, sizeof raw->name);
    memcpy(raw->band, net->band, sizeof raw->band);
}

static void narrow(const struct raw *raw, struct rp_net *net)
{
    memcpy(net->name, raw->name, sizeof net->name);
    memcpy(net->band, raw->band, sizeof net->band);
    net->epoch = (uint8_t)raw->epoch;
    net->profile.freq_hz = (uint32_t)raw->frequency_hz;
    net->profile.bandwidth_hz = (uint32_t)raw->bandwidth_hz;
    net->profile.spreading_factor = (uint8_t)raw->spreading_factor;
    net->profile.coding_rate = (uint8_t)raw->coding_rate;
    net->profile.sync_word = (uint8_t)raw->sync_word;
    net->profile.power_dbm = (int8_t)raw->power_dbm;
    net->profile.preamble_symbols = (uint16_t)raw->preamble_symbols;
    net->profile.text_armour = raw->text_armour != 0;
    net->frame_len_max = (uint16_t)raw->frame_len_max;
    net->duty_permille = (uint32_t)raw->duty_permille;
    net->urgent_reserve_pct = (uint8_t)raw->urgent_reserve_pct;
}

static int hex_digit(char c)
{
    return c >= '0' && c <= '9'   ? c - '0'
           : c >= 'a' && c <= 'f' ? c - 'a' + 10
           : c >= 'A' && c <= 'F' ? c - 'A' + 10
                                  : -1;
}

static int read_secret(const char *path, const char *hex, uint8_t *secret,
                       struct rp_problem *out_problem)
{
    for (size_t i = 0; i < RP_SECRET_LEN; i++) {
        int high = hex_digit(hex[2 * i]), low = hex_digit(hex[2 * i + 1]);
        if (high < 0 || low < 0) {
            return rp_problem_set(
                out_problem, RP_E_FORMAT, "secret",
                "%s: secret holds something else than hexadecimal digits: copy the "
                "net file again, or write it with ridgepost net join",
                path);
        }
        secret[i] = (uint8_t)(high << 4 | low);
    }
    return RP_OK;
}

int rp_netfile_read(const char *path, struct rp_net *out_net, struct rp_problem *out_problem)
{
    struct rp_net net;
    struct raw raw;
    uint8_t text[4096];
    size_t len = 0;
    rp_net_defaults(&net);
    widen(&net, &raw);
    int code = rp_secret_file_read(path, text, sizeof text, &len, out_problem);
    if (code == RP_OK) {
        code = rp_config_parse(path, (struct rp_view){text, len}, keys,
                               sizeof keys / sizeof keys[0], &raw, sizeof raw, out_problem);
    }
    if (code == RP_OK) {
        narrow(&raw, &net);
        code = read_secret(path, raw.secret, net.secret, out_problem);
    }
    if (code == RP_OK) {
        code = rp_net_check(&net, out_problem);
    }
    explicit_bzero(text, sizeof text);
    explicit_bzero(&raw, sizeof raw);
    if (code == RP_OK) {
        *out_net = net;
    }
    return code;
}

static int print_net(FILE *file, const struct rp_net *net)
{
    struct raw raw;
    widen(net, &raw);
    fprintf(file,
            "; A net of Ridgepost stations. Keep this file secret: whoever has it can read\n"
            "; and write the net. Every station needs the same file.\n"
            "[net]\nname = %s\nsecret = ",
            net->name);
    for (size_t i = 0; i < RP_SECRET_LEN; i++) {
        fprintf(file, "%02x", net->secret[i]);
    }
    fprintf(file, "\n");
    const char *section = "net";
    for (size_t i = 0; i < sizeof keys / sizeof keys[0]; i++) {
        if (keys[i].type != RP_CONFIG_NUMBER) {
            continue;
        }
        if (strcmp(keys[i].section, section) != 0) {
            section = keys[i].section;
            fprintf(file,
                    "\n; Radio use follows local law: the band says which limits are checked.\n"
                    "[%s]\n%s%s%s",
                    section, net->band[0] != '\0' ? "band = " : "", net->band,
                    net->band[0] != '\0' ? "\n" : "");
        }
        int64_t value;
        memcpy(&value, (const char *)&raw + keys[i].offset, sizeof value);
        fprintf(file, "%s = %lld\n", keys[i].name, (long long)value);
    }
    return fflush(file) == 0 && fsync(fileno(file)) == 0 ? RP_OK : RP_E_IO;
}

int rp_netfile_write(const char *path, const struct rp_net *net, struct rp_problem *out_problem)
{
    int fd = open(path, O_WRONLY | O_CREAT | O_EXCL | O_CLOEXEC, 0600);
    if (fd < 0) {
        return errno == EEXIST
                   ? rp_problem_set(out_problem, RP_E_TAKEN, "out",
                                    "%s exists already: a net file is never overwritten", path)
                   : rp_problem_set(out_problem, RP_E_IO, "out", "%s cannot be written: %s", path,
                                    strerror(errno));
    }
    FILE *file = fdopen(fd, "w");
    if (file == NULL) {
        close(fd);
        return rp_problem_set(out_problem, RP_E_MEMORY, "out", "out of memory");
    }
    int code = print_net(file, net);
    if (fclose(file) != 0 || code < 0) {
        unlink(path);
        return rp_problem_set(out_problem, RP_E_IO, "out", "%s cannot be written", path);
    }
    return RP_OK;
}
