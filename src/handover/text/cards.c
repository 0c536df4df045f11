#include "handover/text/cards.h"

#include "handover/text/columns.h"
#include "handover/text/filter.h"

static const struct rp_columns_layout page = {.columns = 80, .text_column = 10, .bare = true};

static void build_fixed(struct rp_build *b, enum rp_text_id label, enum rp_text_id words)
{
    rp_build_row(b, label);
    rp_build_word(b, words);
    rp_build_end(b);
}

static void isbar_rows(const struct rp_sheet_facts *facts, rp_sheet_visit *visit, void *arg)
{
    static const struct {
        enum rp_text_id title;
        uint32_t sections;
    } parts[] = {
        {RP_TX_ISBAR_I, RP_SECTION_BIT(PATIENT)},
        {RP_TX_ISBAR_S, RP_SECTION_BIT(HEADLINE)},
        {RP_TX_ISBAR_B, RP_SECTION_BIT(TIME) | RP_SECTION_BIT(COMPLAINT) |
                            RP_SECTION_BIT(ALLERGIES) | RP_SECTION_BIT(MEDICINES) |
                            RP_SECTION_BIT(BACKGROUND) | RP_SECTION_BIT(OTHER)},
        {RP_TX_ISBAR_A, RP_SECTION_BIT(INVESTIGATIONS) | RP_SECTION_BIT(SIGNS) |
                            RP_SECTION_BIT(TREATMENT) | RP_SECTION_BIT(CORRECTIONS) |
                            RP_SECTION_BIT(COMPLETENESS) | RP_SECTION_BIT(UNKNOWNS)},
        {RP_TX_ISBAR_R, RP_SECTION_BIT(EVACUATION)},
    };
    struct rp_build b = rp_build_on(facts, visit, arg);
    rp_build_banner_row(&b);
    rp_build_title_row(&b, RP_TX_ISBAR_TITLE);
    rp_sheet_sections(facts, RP_SECTION_BIT(HEAD), visit, arg);
    for (size_t i = 0; i < sizeof parts / sizeof parts[0]; i++) {
        rp_build_title_row(&b, parts[i].title);
        rp_sheet_sections(facts, parts[i].sections, visit, arg);
    }
    build_fixed(&b, RP_TX_L_ASK, RP_TX_ISBAR_ASK);
    build_fixed(&b, RP_TX_L_READ_BACK, RP_TX_ISBAR_READ_BACK);
    rp_sheet_sections(facts, RP_SECTION_BIT(CAUTIONS) | RP_SECTION_BIT(FOOT), visit, arg);
    rp_build_banner_row(&b);
}

int rp_isbar_render(const struct rp_sheet_facts *facts, const struct rp_texts *texts, char *buf,
                    size_t cap)
{
    return rp_columns_render_rows(facts, texts, &page, isbar_rows, buf, cap);
}

static const struct rp_rec_evacuation *request_of(const struct rp_build *b)
{
    const struct rp_request_entry *entry = rp_sheet_request_now(b->ep);
    return entry != NULL ? &entry->what : NULL;
}

/* The landing site in the two forms that the row of the site itself does not have. */
static void build_site_forms(struct rp_build *b, const struct rp_rec_evacuation *request)
{
    if (request == NULL || !request->site.present) {
        return;
    }
    rp_build_row(b, RP_TX_L_SITE_GRID);
    rp_build_degrees(b, &request->site);
    rp_build_word(b, RP_TX_DATUM);
    rp_build_join(b, RP_JOIN_COMMA);
    rp_build_grid(b, &request->site);
    rp_build_end(b);
}

static void request_rows(const struct rp_sheet_facts *facts, rp_sheet_visit *visit, void *arg)
{
    struct rp_build b = rp_build_on(facts, visit, arg);
    const struct rp_rec_evacuation *request = request_of(&b);
    rp_build_banner_row(&b);
    rp_build_title_row(&b, RP_TX_REQUEST_TITLE);
    rp_sheet_sections(facts, RP_SECTION_BIT(HEAD) | RP_SECTION_BIT(HEADLINE), visit, arg);
    rp_sheet_sections(facts, RP_SECTION_BIT(EVACUATION), visit, arg);
    build_site_forms(&b, request);
    rp_build_density_row(&b, request, true);
    rp_build_light_row(&b, request);
    rp_sheet_build_doses(&b);
    rp_sheet_sections(facts,
                      RP_SECTION_BIT(ALLERGIES) | RP_SECTION_BIT(COMPLETENESS) |
                          RP_SECTION_BIT(UNKNOWNS) | RP_SECTION_BIT(CAUTIONS) |
                          RP_SECTION_BIT(FOOT),
                      visit, arg);
    rp_build_banner_row(&b);
}

int rp_request_render(const struct rp_sheet_facts *facts, const struct rp_texts *texts, char *buf,
                      size_t cap)
{
    return rp_columns_render_rows(facts, texts, &page, request_rows, buf, cap);
}
