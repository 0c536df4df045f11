/* What the two halves of the table of numbers share. */
#ifndef RP_TOOLS_NUMBERS_H
#define RP_TOOLS_NUMBERS_H

#include <stddef.h>

#define PSI_HPA      68.94757
#define COUNT(array) (sizeof(array) / sizeof(array)[0])

/* Prints one line, and counts it as outside when the difference is larger than the tolerance. */
void numbers_row(const char *quantity, const char *source, double published, double ours,
                 double tolerance, int decimals);
/* The same for a quantity at one altitude or the like: "5000 m: ..." */
void numbers_at(const char *quantity, double at, const char *unit, const char *source,
                double published, double ours, double tolerance, int decimals);

void numbers_oxygen_rows(void);
void numbers_news2_rows(void);
void numbers_score_rows(void);
void numbers_unit_rows(void);
void numbers_clock_rows(void);
void numbers_place_rows(void);
void numbers_daylight_rows(void);

#endif
