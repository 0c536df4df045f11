#include "wire/record_row.h"

#include <assert.h>
#include <string.h>

#include "ridgepost/error.h"
#include "wire/frame.h"

/* Fine while a patient is watched minute by minute, coarse for what is taken now and then. */
const uint16_t rp_age_fine_min[32] = {
    0,  1,  2,  3,  4,  5,  6,   8,   10,  12,  15,  18,  20,  25,  30,   35,
    40, 45, 50, 60, 75, 90, 120, 150, 180, 240, 300, 360, 480, 720, 1080, RP_AGE_LAST_MIN};
const uint16_t rp_age_coarse_min[8] = {0, 5, 15, 30, 60, 120, 360, RP_AGE_LAST_MIN};

static const uint8_t *member(const struct rp_record *record, uint16_t at)
{
    return (const uint8_t *)record + at;
}

static int64_t number_read(const struct rp_record *record, uint16_t at, uint16_t size,
                           bool is_signed)
{
    uint8_t one;
    uint16_t two;
    uint32_t four;
    switch (size) {
    case 1:
        memcpy(&one, member(record, at), 1);
        return is_signed ? (int8_t)one : one;
    case 2:
        memcpy(&two, member(record, at), 2);
        return is_signed ? (int16_t)two : two;
    default:
        assert(size == 4);
        memcpy(&four, member(record, at), 4);
        return is_signed ? (int32_t)four : (int64_t)four;
    }
}

static void number_write(struct rp_record *record, uint16_t at, uint16_t size, int64_t value)
{
    uint8_t one = (uint8_t)value;
    uint16_t two = (uint16_t)value;
    uint32_t four = (uint32_t)value;
    const void *from = size == 1 ? (const void *)&one : size == 2 ? (const void *)&two : &four;
    assert(size == 1 || size == 2 || size == 4);
    memcpy((uint8_t *)record + at, from, size);
}

static bool flag_read(const struct rp_record *record, uint16_t at)
{
    return number_read(record, at, 1, false) != 0;
}

static bool row_present(const struct rp_row *row, const struct rp_record *record)
{
    return row->has_at == 0 || flag_read(record, row->has_at);
}

static int64_t row_read(const struct rp_row *row, const struct rp_record *record)
{
    return number_read(record, row->at, row->size, row->is_signed);
}

static struct rp_value value_read(const struct rp_row *row, const struct rp_record *record)
{
    struct rp_value value;
    memcpy(&value, member(record, row->at), sizeof value);
    return value;
}

static int64_t row_step(const struct rp_row *row)
{
    return row->step > 0 ? row->step : 1;
}

static bool within(const struct rp_row *row, int64_t value)
{
    return value >= row->min && value <= row->max;
}

static struct rp_cell cell_of(uint32_t number)
{
    return (struct rp_cell){.present = true, .number = number};
}

/* Numbers. */

static int number_check(const struct rp_row *row, const struct rp_record *record)
{
    return !row_present(row, record) || within(row, row_read(row, record)) ? 0 : RP_E_INVALID;
}

/* What 0 on the wire stands for: the least value in a digit that can also be absent. */
static int64_t number_low(const struct rp_row *row)
{
    return row->has_at != 0 && row->field == 0 ? row->min : 0;
}

static struct rp_cell number_get(const struct rp_row *row, const struct rp_record *record)
{
    if (!row_present(row, record)) {
        return (struct rp_cell){.present = false};
    }
    struct rp_cell cell = cell_of((uint32_t)(row_read(row, record) - number_low(row)));
    cell.present = row->has_at != 0 || cell.number != 0;
    return cell;
}

static int number_store(const struct rp_row *row, int64_t value, struct rp_record *record)
{
    if (!within(row, value)) {
        return RP_E_INVALID;
    }
    number_write(record, row->at, row->size, value);
    if (row->has_at != 0) {
        number_write(record, row->has_at, 1, 1);
    }
    return 0;
}

static int number_set(const struct rp_row *row, struct rp_cell cell, uint16_t own_origin,
                      struct rp_record *record)
{
    (void)own_origin;
    return cell.present ? number_store(row, cell.number + number_low(row), record) : 0;
}

static uint32_t delta_base(const struct rp_row *row, const struct rp_record *record)
{
    if (row->base_at == 0 || (row->base_has_at != 0 && !flag_read(record, row->base_has_at))) {
        return 0;
    }
    return (uint32_t)number_read(record, row->base_at, 4, false);
}

static struct rp_cell delta_get(const struct rp_row *row, const struct rp_record *record)
{
    if (!row_present(row, record)) {
        return (struct rp_cell){.present = false};
    }
    return cell_of((uint32_t)row_read(row, record) - delta_base(row, record));
}

static int delta_set(const struct rp_row *row, struct rp_cell cell, uint16_t own_origin,
                     struct rp_record *record)
{
    (void)own_origin;
    if (!cell.present) {
        return 0;
    }
    uint32_t sum = delta_base(row, record) + cell.number;
    return number_store(row, row->is_signed ? (int32_t)sum : (int64_t)sum, record);
}

static int no_check(const struct rp_row *row, const struct rp_record *record)
{
    (void)row;
    (void)record;
    return 0;
}

static struct rp_cell saturating_get(const struct rp_row *row, const struct rp_record *record)
{
    int64_t value = row_read(row, record);
    return cell_of((uint32_t)(value < row->max ? value : row->max));
}

/* Origins. */

static bool origin_valid(int64_t origin)
{
    return origin >= 0 && origin <= UINT16_MAX &&
           rp_origin_station((uint16_t)origin) >= RP_STATION_MIN &&
           rp_origin_station((uint16_t)origin) <= RP_STATION_MAX;
}

static bool origin_wanted(const struct rp_row *row, const struct rp_record *record)
{
    return number_read(record, row->base_at, row->base_size, false) != 0;
}

static int origin_check(const struct rp_row *row, const struct rp_record *record)
{
    int64_t origin = row_read(row, record);
    if (origin == 0) {
        return 0;
    }
    return origin_valid(origin) && origin_wanted(row, record) ? 0 : RP_E_INVALID;
}

static int origin_set(const struct rp_row *row, struct rp_cell cell, uint16_t own_origin,
                      struct rp_record *record)
{
    if (!origin_wanted(row, record)) {
        return cell.present ? RP_E_FORMAT : 0;
    }
    if (cell.present && !origin_valid(cell.number)) {
        return RP_E_INVALID;
    }
    number_write(record, row->at, row->size, cell.present ? cell.number : own_origin);
    return 0;
}

/* Measured values. */

static int value_check(const struct rp_row *row, const struct rp_record *record)
{
    struct rp_value value = value_read(row, record);
    if (value.state == RP_MEASURED) {
        return within(row, value.value) ? 0 : RP_E_INVALID;
    }
    return value.state == RP_NOT_MEASURED || value.state == RP_UNABLE ? 0 : RP_E_INVALID;
}

static struct rp_cell value_get(const struct rp_row *row, const struct rp_record *record)
{
    struct rp_value value = value_read(row, record);
    if (value.state != RP_MEASURED) {
        return (struct rp_cell){.present = value.state == RP_UNABLE, .number = 0};
    }
    int64_t step = row_step(row);
    return cell_of((uint32_t)((value.value - row->min + step / 2) / step + 1));
}

static int value_set(const struct rp_row *row, struct rp_cell cell, uint16_t own_origin,
                     struct rp_record *record)
{
    (void)own_origin;
    struct rp_value value;
    memset(&value, 0, sizeof value);
    if (!cell.present) {
        return 0;
    }
    value.state = RP_UNABLE;
    if (cell.number > 0) {
        int64_t measured = ((int64_t)cell.number - 1) * row_step(row) + row->min;
        if (!within(row, measured)) {
            return RP_E_INVALID;
        }
        value.state = RP_MEASURED;
        value.value = (int16_t)measured;
    }
    memcpy((uint8_t *)record + row->at, &value, sizeof value);
    return 0;
}

/* Altitudes. */

#define SOURCES 8 /* room for sources of a newer version */

static struct rp_altitude *altitude_at(const struct rp_row *row, struct rp_record *record)
{
    return (struct rp_altitude *)(void *)((uint8_t *)record + row->at);
}

static struct rp_altitude altitude_read(const struct rp_row *row, const struct rp_record *record)
{
    struct rp_altitude altitude;
    memcpy(&altitude, member(record, row->at), sizeof altitude);
    return altitude;
}

static int altitude_check(const struct rp_row *row, const struct rp_record *record)
{
    struct rp_altitude altitude = altitude_read(row, record);
    return !altitude.present ||
                   (within(row, altitude.metres) && altitude.source <= RP_ALT_BAROMETER)
               ? 0
               : RP_E_INVALID;
}

static struct rp_cell altitude_get(const struct rp_row *row, const struct rp_record *record)
{
    struct rp_altitude altitude = altitude_read(row, record);
    if (!altitude.present) {
        return (struct rp_cell){.present = false};
    }
    return cell_of((uint32_t)(altitude.metres - row->min) * SOURCES + altitude.source);
}

static int altitude_set(const struct rp_row *row, struct rp_cell cell, uint16_t own_origin,
                        struct rp_record *record)
{
    (void)own_origin;
    if (!cell.present) {
        return 0;
    }
    int64_t metres = cell.number / SOURCES + row->min;
    if (!within(row, metres)) {
        return RP_E_INVALID;
    }
    struct rp_altitude *altitude = altitude_at(row, record);
    altitude->present = true;
    altitude->metres = (int16_t)metres;
    altitude->source = cell.number % SOURCES;
    return 0;
}

/* Glasgow coma scale, Teasdale and Jennett 1974: eye 1-4, verbal 1-5, motor 1-6. */

static int gcs_check(const struct rp_row *row, const struct rp_record *record)
{
    (void)row;
    const struct rp_rec_status *s = &record->as.status;
    if (s->gcs_eye.state > RP_MEASURED || s->gcs_verbal.state != s->gcs_eye.state ||
        s->gcs_motor.state != s->gcs_eye.state) {
        return RP_E_INVALID;
    }
    if (s->gcs_eye.state != RP_MEASURED) {
        return 0;
    }
    return s->gcs_eye.value >= 1 && s->gcs_eye.value <= 4 && s->gcs_verbal.value >= 1 &&
                   s->gcs_verbal.value <= 5 && s->gcs_motor.value >= 1 && s->gcs_motor.value <= 6
               ? 0
               : RP_E_INVALID;
}

static struct rp_cell gcs_get(const struct rp_row *row, const struct rp_record *record)
{
    (void)row;
    const struct rp_rec_status *s = &record->as.status;
    if (s->gcs_eye.state != RP_MEASURED) {
        return (struct rp_cell){.present = s->gcs_eye.state == RP_UNABLE, .number = 0};
    }
    int mixed = s->gcs_eye.value - 1 + 4 * (s->gcs_verbal.value - 1 + 5 * (s->gcs_motor.value - 1));
    return cell_of((uint32_t)(mixed + 1));
}

static int gcs_set(const struct rp_row *row, struct rp_cell cell, uint16_t own_origin,
                   struct rp_record *record)
{
    (void)row;
    (void)own_origin;
    if (!cell.present) {
        return 0;
    }
    struct rp_rec_status *s = &record->as.status;
    enum rp_measured measured = cell.number > 0 ? RP_MEASURED : RP_UNABLE;
    s->gcs_eye.state = s->gcs_verbal.state = s->gcs_motor.state = measured;
    if (cell.number > 0) {
        uint32_t mixed = cell.number - 1;
        s->gcs_eye.value = (int16_t)(mixed % 4 + 1);
        s->gcs_verbal.value = (int16_t)(mixed / 4 % 5 + 1);
        s->gcs_motor.value = (int16_t)(mixed / 20 + 1);
    }
    return 0;
}

/* Ages. */

static uint32_t step_up(const uint16_t *steps, uint32_t count, int64_t age_min)
{
    uint32_t i = 0;
    while (i + 1 < count && steps[i] < age_min) {
        i++;
    }
    return i;
}

static struct rp_cell age_fine_get(const struct rp_row *row, const struct rp_record *record)
{
    return cell_of(step_up(rp_age_fine_min, 32, row_read(row, record)));
}

static struct rp_cell age_coarse_get(const struct rp_row *row, const struct rp_record *record)
{
    return cell_of(step_up(rp_age_coarse_min, 8, row_read(row, record)));
}

static int age_fine_set(const struct rp_row *row, struct rp_cell cell, uint16_t own_origin,
                        struct rp_record *record)
{
    (void)own_origin;
    number_write(record, row->at, row->size, rp_age_fine_min[cell.number % 32]);
    return 0;
}

static int age_coarse_set(const struct rp_row *row, struct rp_cell cell, uint16_t own_origin,
                          struct rp_record *record)
{
    (void)own_origin;
    number_write(record, row->at, row->size, rp_age_coarse_min[cell.number % 8]);
    return 0;
}

/* Texts. */

static int chars_check(const struct rp_row *row, const char *text, size_t size)
{
    const char *end = memchr(text, '\0', size);
    if (end == NULL) {
        return RP_E_TOO_LONG;
    }
    return rp_text_valid(text, (size_t)(end - text), row->type == RP_ROW_LINES) ? 0 : RP_E_INVALID;
}

static int text_check(const struct rp_row *row, const struct rp_record *record)
{
    return chars_check(row, (const char *)member(record, row->at), row->size);
}

static struct rp_cell text_get(const struct rp_row *row, const struct rp_record *record)
{
    const char *text = (const char *)member(record, row->at);
    return (struct rp_cell){.present = text[0] != '\0', .text = text};
}

static int chars_set(const char *text, size_t size, char *out)
{
    size_t len = strlen(text);
    if (len >= size) {
        return RP_E_INVALID;
    }
    memcpy(out, text, len);
    return 0;
}

static int text_set(const struct rp_row *row, struct rp_cell cell, uint16_t own_origin,
                    struct rp_record *record)
{
    (void)own_origin;
    return cell.present ? chars_set(cell.text, row->size, (char *)record + row->at) : 0;
}

static const struct rp_known *known_at(const struct rp_row *row, const struct rp_record *record)
{
    return (const struct rp_known *)(const void *)member(record, row->at);
}

static int known_check(const struct rp_row *row, const struct rp_record *record)
{
    const struct rp_known *known = known_at(row, record);
    if (known->state == RP_KNOWN) {
        return known->text[0] != '\0' ? chars_check(row, known->text, sizeof known->text)
                                      : RP_E_INVALID;
    }
    return known->state == RP_NOT_ASKED || known->state == RP_NONE_KNOWN ? 0 : RP_E_INVALID;
}

static struct rp_cell known_get(const struct rp_row *row, const struct rp_record *record)
{
    const struct rp_known *known = known_at(row, record);
    return (struct rp_cell){.present = known->state != RP_NOT_ASKED,
                            .text = known->state == RP_KNOWN ? known->text : ""};
}

static int known_set(const struct rp_row *row, struct rp_cell cell, uint16_t own_origin,
                     struct rp_record *record)
{
    (void)own_origin;
    if (!cell.present) {
        return 0;
    }
    struct rp_known *known = (struct rp_known *)(void *)((uint8_t *)record + row->at);
    known->state = cell.text[0] != '\0' ? RP_KNOWN : RP_NONE_KNOWN;
    return chars_set(cell.text, sizeof known->text, known->text);
}

static const struct {
    int (*check)(const struct rp_row *row, const struct rp_record *record);
    struct rp_cell (*get)(const struct rp_row *row, const struct rp_record *record);
    int (*set)(const struct rp_row *row, struct rp_cell cell, uint16_t own_origin,
               struct rp_record *record);
} types[RP_ROW_TYPES] = {
    [RP_ROW_NUMBER] = {number_check, number_get, number_set},
    [RP_ROW_DELTA] = {number_check, delta_get, delta_set},
    [RP_ROW_ORIGIN] = {origin_check, number_get, origin_set},
    [RP_ROW_VALUE] = {value_check, value_get, value_set},
    [RP_ROW_SATURATING] = {no_check, saturating_get, number_set},
    [RP_ROW_AGE_FINE] = {no_check, age_fine_get, age_fine_set},
    [RP_ROW_AGE_COARSE] = {no_check, age_coarse_get, age_coarse_set},
    [RP_ROW_ALTITUDE] = {altitude_check, altitude_get, altitude_set},
    [RP_ROW_GCS] = {gcs_check, gcs_get, gcs_set},
    [RP_ROW_TEXT] = {text_check, text_get, text_set},
    [RP_ROW_LINES] = {text_check, text_get, text_set},
    [RP_ROW_KNOWN] = {known_check, known_get, known_set},
};

bool rp_row_can_miss(const struct rp_row *row)
{
    return row->has_at != 0 || row->type == RP_ROW_VALUE || row->type == RP_ROW_GCS;
}

int rp_row_check(const struct rp_row *row, const struct rp_record *record)
{
    return types[row->type].check(row, record);
}

struct rp_cell rp_row_get(const struct rp_row *row, const struct rp_record *record)
{
    return types[row->type].get(row, record);
}

int rp_row_set(const struct rp_row *row, struct rp_cell cell, uint16_t own_origin,
               struct rp_record *record)
{
    if (row->follows && cell.present != flag_read(record, row->has_at)) {
        return RP_E_FORMAT;
    }
    return types[row->type].set(row, cell, own_origin, record);
}
