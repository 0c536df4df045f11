/* Rows of the sheet in another order or choice, and rows that only some forms have. */
#ifndef RP_HANDOVER_TEXT_FILTER_H
#define RP_HANDOVER_TEXT_FILTER_H

#include "handover/build.h"

#define RP_SECTION_BIT(name) (UINT32_C(1) << RP_SECTION_##name)

/* A builder of rows that go to `visit`, as if they stood in the headline. */
struct rp_build rp_build_on(const struct rp_sheet_facts *facts, rp_sheet_visit *visit, void *arg);
/* The rows of the sheet in these sections (bits), in its order, without banners. */
void rp_sheet_sections(const struct rp_sheet_facts *facts, uint32_t sections, rp_sheet_visit *visit,
                       void *arg);
void rp_build_banner_row(struct rp_build *b); /* EXERCISE, when it is one */
void rp_build_title_row(struct rp_build *b, enum rp_text_id words);

/* "density altitude about 4900 m (ISA) or 4850 m (West 1996)": of the height of the episode and the
 * air temperature of the request. Says why when it is not known. */
void rp_build_density_row(struct rp_build *b, const struct rp_rec_evacuation *request, bool feet);
/* First light, sunrise, sunset and last light of the present day, or of the next once it is dark.
 */
void rp_build_light_row(struct rp_build *b, const struct rp_rec_evacuation *request);

#endif
