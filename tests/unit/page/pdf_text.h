/* Reading back what was drawn, by poppler's pdftotext. Failures end the test. */
#ifndef PDF_TEXT_H
#define PDF_TEXT_H

#include <stddef.h>
#include <stdio.h>

/* A scratch file to draw into; one at a time. */
FILE *pdf_open(void);
/* Closes and removes it; its text, lines as they come, each page ended by a form feed. Returns the
 * length; the text ends with NUL, cut at cap - 1. */
size_t pdf_close(FILE *pdf, char *text, size_t cap);

#endif
