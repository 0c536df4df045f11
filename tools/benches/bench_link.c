/* The link against its marks: each row of the design's "how good it must be" that the simulator can
 * measure, over several seeds, with the genie and the four baselines on the same nets and seeds.
 * Prints a table; exit status 1 when the simulator failed or saw an invariant violated.
 *
 * usage: bench_link SIMULATOR BENCH_WIRE [SAMPLES]   (samples of each net, 3 to 200; 20) */
#include <math.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>

#include <jansson.h>

#define SAMPLES_MAX 200
#define BASELINES   4
#define COMMAND_CAP 512

enum metric {
    RATIO,    /* airtime over the genie's; to base on a chain, else to everybody */
    BARE,     /* the same without the segments of receipts, station cards and clock notes */
    P95,      /* entry to base, s */
    DELIVERY, /* at base, % */
    URGENT,   /* p95 of urgent records over the genie's */
    CONTACT,  /* p95 from the end of a partition until the newest record is at base, s */
    SPEED,    /* station-days in a second of one core */
    BYTES,    /* on air, of one report */
    METRICS
};

static const struct {
    const char *title;
    bool more_is_better;
} metrics[METRICS] = {
    [RATIO] = {"R", false},
    [BARE] = {"R, housekeeping left out", false},
    [P95] = {"p95 to base, s", false},
    [DELIVERY] = {"at base, %", true},
    [URGENT] = {"urgent p95 / genie's", false},
    [CONTACT] = {"newest at base, p95 s", false},
    [SPEED] = {"station-days a second", true},
    [BYTES] = {"bytes on air", false},
};

/* In the order of the columns: their names in the simulator's output, and above the column. */
static const struct {
    const char *name, *title;
} baselines[BASELINES] = {{"flood once", "flood once"},
                          {"flood three times", "flood 3x"},
                          {"RFC 7731 defaults", "RFC 7731"},
                          {"stop-and-wait", "stop-and-wait"}};

/* One metric of a net, with its first mark and its aim; 0: none set. */
struct row {
    enum metric metric;
    double mark, aim;
};

struct net {
    const char *title, *options;
    unsigned batch; /* seeds in a sample: a quantile of few records needs several */
    bool baselines;
    struct row rows[4];
    unsigned row_count;
};

#define GOOD(ratio_mark, ratio_aim)                                                                \
    {                                                                                              \
        {RATIO, ratio_mark, ratio_aim}, {BARE, 0, 0}, {P95, 600, 120},                             \
        {                                                                                          \
            DELIVERY, 100, 100                                                                     \
        }                                                                                          \
    }
#define RECORDS(title, word, loss, cadence, ratio_mark, ratio_aim)                                 \
    {                                                                                              \
        title, "--topology " word " --loss " loss " --cadence " cadence, 1, true,                  \
            GOOD(ratio_mark, ratio_aim), 4                                                         \
    }

/* Marks and aims: the design of the link, "How good it must be". Records of 40 bytes on air, one in
 * 10 minutes for 24 h, SF9, 125 kHz, 1 %. No mark is set for sporadic records on grids. */
static const struct net nets[] = {
    RECORDS("chain:5, 10 %, declared", "chain:5", "0.1", "declared", 1.3, 1.10),
    RECORDS("chain:5, 30 %, declared", "chain:5", "0.3", "declared", 1.6, 1.3),
    RECORDS("chain:5, 50 %, declared", "chain:5", "0.5", "declared", 2.0, 1.6),
    RECORDS("chain:5, 10 %, sporadic", "chain:5", "0.1", "sporadic", 1.5, 1.25),
    RECORDS("chain:5, 30 %, sporadic", "chain:5", "0.3", "sporadic", 1.8, 1.5),
    RECORDS("chain:5, 50 %, sporadic", "chain:5", "0.5", "sporadic", 2.1, 1.75),
    RECORDS("grid:3x3, 10 %, declared", "grid:3x3", "0.1", "declared", 1.6, 1.25),
    RECORDS("grid:3x3, 30 %, declared", "grid:3x3", "0.3", "declared", 1.9, 1.6),
    RECORDS("grid:3x3, 50 %, declared", "grid:3x3", "0.5", "declared", 2.2, 1.8),
    RECORDS("ladder:5, 10 %, declared", "ladder:5", "0.1", "declared", 1.6, 1.25),
    RECORDS("ladder:5, 30 %, declared", "ladder:5", "0.3", "declared", 1.9, 1.6),
    RECORDS("ladder:5, 50 %, declared", "ladder:5", "0.5", "declared", 2.2, 1.8),
    RECORDS("grid:3x3, 30 %, sporadic", "grid:3x3", "0.3", "sporadic", 0, 0),
    RECORDS("ladder:5, 30 %, sporadic", "ladder:5", "0.3", "sporadic", 0, 0),
    {"chain:5, 30 %, one in six urgent, sent twice",
     "--topology chain:5 --loss 0.3 --urgent 0.167",
     10,
     true,
     {{URGENT, 2.0, 1.15}, {DELIVERY, 100, 100}, {RATIO, 0, 0}},
     3},
    /* The modem tells of the channel, and when a frame was sent. */
    {"chain:5, 30 %, one in six urgent, sensing",
     "--topology chain:5 --loss 0.3 --urgent 0.167 --sensing --modem kiss-ack",
     10,
     true,
     {{URGENT, 2.0, 1.15}, {DELIVERY, 100, 100}, {RATIO, 0, 0}},
     3},
    /* 12 h with a record every 3.6 minutes leave 200 waiting. */
    {"chain:5, 10 %, cut for 12 h, 200 records wait",
     "--topology chain:5 --loss 0.1 --cut s2-s3:1-13 --interval-min 3.6 --hours 14 "
     "--settle-hours 24",
     10,
     true,
     {{CONTACT, 300, 0}, {DELIVERY, 100, 100}},
     2},
    {"chain:7, 30 %, five camps report",
     "--topology chain:7 --loss 0.3 --origins 5",
     1,
     true,
     {{DELIVERY, 100, 100}, {P95, 600, 600}, {RATIO, 0, 0}},
     3},
    {"chain:7, 50 %, five camps report",
     "--topology chain:7 --loss 0.5 --origins 5",
     1,
     true,
     {{DELIVERY, 0, 100}, {P95, 0, 600}, {RATIO, 0, 0}},
     3},
    {"chain:10, 30 %", "--topology chain:10 --loss 0.3", 20, false, {{SPEED, 100, 1000}}, 1},
};

struct samples {
    unsigned count;
    double value[SAMPLES_MAX]; /* infinite: never */
};

struct measured {
    struct samples of[METRICS];
    struct samples baseline[METRICS][BASELINES]; /* empty: they have none */
    double genie_s;                              /* of a record, the last sample's */
    double genie_urgent_p95_s;
    bool to_all;
    long violations;
};

/* Over all nets. */
struct total {
    long violations;
    unsigned samples, whole; /* those in which all records came to base */
    double least_pct;
};

static void put(struct samples *samples, double value)
{
    samples->value[samples->count++] = value;
}

/* A number, or infinity for null: never. */
static double number_at(json_t *from, const char *key)
{
    json_t *value = json_object_get(from, key);
    return json_is_number(value) ? json_number_value(value) : HUGE_VAL;
}

static double share_pct(json_t *from, const char *key)
{
    return 100.0 * number_at(from, key) / number_at(from, "originated");
}

static void take_baselines(struct measured *m, json_t *answer)
{
    json_t *all = json_object_get(answer, "baselines");
    for (unsigned i = 0; i < BASELINES; i++) {
        json_t *one = json_object_get(all, baselines[i].name);
        /* Stop-and-wait goes to base alone, so its yardstick is the genie to base. */
        bool to_all = m->to_all && i != BASELINES - 1;
        double p95_s = number_at(one, "p95_s");
        put(&m->baseline[RATIO][i], number_at(one, to_all ? "ratio_all" : "ratio_base"));
        put(&m->baseline[P95][i], p95_s);
        put(&m->baseline[DELIVERY][i], share_pct(one, "delivered_to_base"));
        put(&m->baseline[URGENT][i], p95_s / m->genie_urgent_p95_s); /* they know no urgency */
        put(&m->baseline[CONTACT][i], number_at(one, "newest_after_cut_worst_s"));
    }
}

static void take_answer(struct measured *m, const struct net *net, json_t *answer, double cpu_s)
{
    const char *to = json_string_value(json_object_get(answer, "genie_to"));
    m->to_all = to != NULL && strcmp(to, "all") == 0;
    m->genie_s = number_at(answer, "genie_airtime_s") / number_at(answer, "originated");
    m->genie_urgent_p95_s = number_at(answer, "genie_urgent_p95_s");
    m->violations += json_integer_value(json_object_get(answer, "violations"));
    put(&m->of[RATIO], number_at(answer, "ratio"));
    put(&m->of[BARE], number_at(answer, "ratio_without_housekeeping"));
    put(&m->of[P95], number_at(answer, "p95_s"));
    put(&m->of[DELIVERY], share_pct(answer, "delivered_to_base"));
    put(&m->of[URGENT], number_at(answer, "urgent_p95_s") / m->genie_urgent_p95_s);
    put(&m->of[CONTACT], number_at(answer, "newest_after_cut_p95_s"));
    /* Ten stations, 24 h, `batch` seeds; only the net for speed shows it. */
    put(&m->of[SPEED], cpu_s > 0 ? 10.0 * net->batch / cpu_s : HUGE_VAL);
    if (net->baselines) {
        take_baselines(m, answer);
    }
}

static double children_cpu_s(void)
{
    struct rusage usage;
    getrusage(RUSAGE_CHILDREN, &usage);
    return (double)(usage.ru_utime.tv_sec + usage.ru_stime.tv_sec) +
           (double)(usage.ru_utime.tv_usec + usage.ru_stime.tv_usec) / 1e6;
}

static bool take_sample(struct measured *m, const struct net *net, const char *simulator,
                        unsigned sample)
{
    char command[COMMAND_CAP];
    int len = snprintf(command, sizeof command, "'%s' run %s --seed %u --count %u%s --json",
                       simulator, net->options, 1 + sample * net->batch, net->batch,
                       net->baselines ? " --baselines" : "");
    if (len < 0 || (size_t)len >= sizeof command || strchr(simulator, '\'') != NULL) {
        fprintf(stderr, "bench_link: the simulator's path is too long or has a quote\n");
        return false;
    }
    double before_s = children_cpu_s();
    FILE *pipe = popen(command, "r");
    json_error_t error;
    json_t *answer = pipe != NULL ? json_loadf(pipe, 0, &error) : NULL;
    int status = pipe != NULL ? pclose(pipe) : -1;
    if (answer == NULL || status < 0) {
        fprintf(stderr, "bench_link: no figures from: %s\n", command);
        json_decref(answer);
        return false;
    }
    take_answer(m, net, answer, children_cpu_s() - before_s);
    json_decref(answer);
    return true;
}

static int by_value(const void *a, const void *b)
{
    double left = *(const double *)a, right = *(const double *)b;
    return left < right ? -1 : left > right;
}

/* The lower of the two middle ones when the count is even: a value that occurred. */
static double median(struct samples *samples)
{
    qsort(samples->value, samples->count, sizeof samples->value[0], by_value);
    return samples->value[(samples->count - 1) / 2];
}

static void print_number(double value)
{
    if (isinf(value)) {
        printf("never");
    } else {
        printf(value >= 100 ? "%.0f" : value >= 20 ? "%.1f" : "%.2f", value);
    }
}

static const char *verdict_of(const struct row *row, double value)
{
    bool more = metrics[row->metric].more_is_better;
    if (row->mark <= 0 && row->aim <= 0) {
        return "-";
    }
    if (row->aim > 0 && (more ? value >= row->aim : value <= row->aim)) {
        return "aim met";
    }
    if (row->mark > 0 && (more ? value >= row->mark : value <= row->mark)) {
        return "mark met";
    }
    return "MISSED";
}

static void print_bound(double bound)
{
    printf(" | ");
    if (bound > 0) {
        print_number(bound);
    } else {
        printf("-");
    }
}

static void print_genie(const struct measured *m, enum metric metric)
{
    if (metric == RATIO) {
        printf(" | 1 = %.2f s", m->genie_s);
    } else if (metric == URGENT) {
        printf(" | 1 = %.2f s", m->genie_urgent_p95_s);
    } else if (metric == P95 && isfinite(m->genie_urgent_p95_s)) {
        printf(" | %.2f", m->genie_urgent_p95_s);
    } else {
        printf(" | %s", metric == DELIVERY ? "100" : "-");
    }
}

static void print_baselines(struct measured *m, enum metric metric)
{
    for (unsigned i = 0; i < BASELINES; i++) {
        printf(" | ");
        if (m->baseline[metric][i].count > 0) {
            print_number(median(&m->baseline[metric][i]));
        } else {
            printf("-");
        }
    }
}

static void print_row(struct measured *m, const struct net *net, const struct row *row)
{
    struct samples *samples = &m->of[row->metric];
    double middle = median(samples), low = samples->value[0];
    printf("| %s | %s | ", net->title, metrics[row->metric].title);
    print_number(middle);
    printf(" (");
    print_number(low);
    printf(" to ");
    print_number(samples->value[samples->count - 1]);
    printf(")");
    print_bound(row->mark);
    if (row->metric == CONTACT) {
        printf(" | the first frame after contact");
    } else {
        print_bound(row->aim);
    }
    /* One lost record in one sample is one too many; elsewhere the median counts. */
    bool more = metrics[row->metric].more_is_better;
    double worst = more ? low : samples->value[samples->count - 1];
    const char *verdict = verdict_of(row, row->metric == DELIVERY ? low : middle);
    printf(" | %s%s", verdict, strcmp(verdict, verdict_of(row, worst)) != 0 ? ", not by all" : "");
    print_genie(m, row->metric);
    print_baselines(m, row->metric);
    printf(" |\n");
}

static void print_head(unsigned samples)
{
    printf("Ours: median (least to most) of %u samples; a sample is one seed, or the number of "
           "seeds said.\nR: airtime over the genie's, to base on chains, else to everybody; "
           "stop-and-wait always to base. R counts every frame; of ours the next row leaves out "
           "the segments\nof receipts, station cards and clock notes, which baselines do not have. "
           "Of baselines the median, p95\nonly of what arrived; they know no urgency, and after a "
           "cut theirs is the longest of a sample.\n\n",
           samples);
    printf("| net | figure | ours | first mark | aim | verdict | genie");
    for (unsigned i = 0; i < BASELINES; i++) {
        printf(" | %s", baselines[i].title);
    }
    printf(" |\n|---|---|---|---|---|---|---|---|---|---|---|\n");
}

/* The longest report, from the records themselves; bench_wire also tells it. */
static bool bench_report(const char *bench_wire)
{
    char command[COMMAND_CAP];
    int bytes = 0;
    snprintf(command, sizeof command, "'%s' --sizes", bench_wire);
    FILE *pipe = popen(command, "r");
    bool well = pipe != NULL &&
                fscanf(pipe, "full 16-field status report, bytes on air: %d", &bytes) == 1 &&
                bytes > 0;
    if (pipe != NULL) {
        char rest[256];
        while (fgets(rest, sizeof rest, pipe) != NULL) {
        }
        pclose(pipe);
    }
    if (!well) {
        fprintf(stderr, "bench_link: no figures from: %s\n", command);
        return false;
    }
    struct row row = {BYTES, 40, 32};
    printf("| full 16-field status report | %s | %d | 40 | 32 | %s | - | - | - | - | - |\n",
           metrics[BYTES].title, bytes, verdict_of(&row, bytes));
    return true;
}

/* False when the simulator gave no figures. */
static bool bench_net(const struct net *net, const char *simulator, unsigned samples,
                      struct total *total)
{
    struct measured *m = calloc(1, sizeof *m);
    bool well = m != NULL;
    for (unsigned i = 0; well && i < samples; i++) {
        well = take_sample(m, net, simulator, i);
    }
    for (unsigned i = 0; well && i < net->row_count; i++) {
        print_row(m, net, &net->rows[i]);
    }
    fflush(stdout);
    if (well) {
        total->violations += m->violations;
        for (unsigned i = 0; i < m->of[DELIVERY].count; i++) {
            double pct = m->of[DELIVERY].value[i];
            total->samples++;
            total->whole += pct >= 100;
            total->least_pct = pct < total->least_pct ? pct : total->least_pct;
        }
    }
    free(m);
    return well;
}

int main(int argc, char **argv)
{
    long samples = argc > 3 ? strtol(argv[3], NULL, 10) : 20;
    if (argc < 3 || argc > 4 || samples < 3 || samples > SAMPLES_MAX) {
        fprintf(stderr, "usage: bench_link SIMULATOR BENCH_WIRE [SAMPLES]   (3 to %d)\n",
                SAMPLES_MAX);
        return 64;
    }
    print_head((unsigned)samples);
    struct total total = {.least_pct = 100};
    for (size_t i = 0; i < sizeof nets / sizeof nets[0]; i++) {
        if (!bench_net(&nets[i], argv[1], (unsigned)samples, &total)) {
            return 1;
        }
    }
    if (!bench_report(argv[2])) {
        return 1;
    }
    printf("\ndelivery: all records at base in %u of %u samples, least %.2f %%\n", total.whole,
           total.samples, total.least_pct);
    printf("violations of an invariant: %ld\n", total.violations);
    return total.violations > 0 ? 1 : 0;
}
