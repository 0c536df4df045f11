/* Any bytes as a protocol table: either all of it is taken, within its bounds, or the table is as
 * before and a problem is told. */
#include <stdlib.h>
#include <string.h>

#include "port/files/protocol.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

static bool ends(const char *text, size_t size)
{
    return memchr(text, 0, size) != NULL;
}

static bool drug_is_sane(const struct rp_drug *drug)
{
    bool sane = drug->name[0] != '\0' && ends(drug->name, sizeof drug->name) &&
                drug->source[0] != '\0' && ends(drug->source, sizeof drug->source) &&
                drug->unit <= RP_DOSE_IU && drug->interval_s <= 7 * 86400;
    for (size_t i = 0; i < RP_DRUG_WORDS_MAX; i++) {
        sane = sane && ends(drug->also[i], sizeof drug->also[i]) &&
               ends(drug->allergy[i], sizeof drug->allergy[i]);
    }
    for (size_t i = 0; i < RP_DRUG_CAUTIONS; i++) {
        sane = sane && ends(drug->cautions[i], sizeof drug->cautions[i]);
    }
    bool amounts = drug->dose_milli != 0 || drug->single_milli != 0 || drug->day_milli != 0;
    return sane && amounts == (drug->unit != RP_DOSE_NONE);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    static struct rp_protocol table, before;
    struct rp_problem problem = {0};
    memset(&table, 0x5a, sizeof table);
    before = table;
    int code = rp_protocol_parse("fuzz", (struct rp_view){data, size}, &table, &problem);
    if (code < 0) {
        bool told = problem.code == code && problem.text[0] != '\0' &&
                    ends(problem.text, sizeof problem.text);
        if (!told || memcmp(&table, &before, sizeof table) != 0) {
            abort();
        }
        return 0;
    }
    bool sane = table.count <= RP_DRUGS_MAX && table.title[0] != '\0' &&
                ends(table.title, sizeof table.title) &&
                ends(table.reviewed_by, sizeof table.reviewed_by) &&
                ends(table.reviewed_on, sizeof table.reviewed_on);
    for (size_t i = 0; sane && i < table.count; i++) {
        sane = drug_is_sane(&table.drugs[i]);
    }
    if (code != 0 || !sane) {
        abort();
    }
    return 0;
}
