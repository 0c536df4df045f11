#include "pdf_text.h"

#include "rp_test.h"

#include <stdlib.h>
#include <unistd.h>

static char path[] = "/tmp/ridgepost-page.XXXXXX";

FILE *pdf_open(void)
{
    snprintf(path, sizeof path, "/tmp/ridgepost-page.XXXXXX");
    int fd = mkstemp(path);
    assert_true(fd >= 0);
    FILE *pdf = fdopen(fd, "wb");
    assert_non_null(pdf);
    return pdf;
}

size_t pdf_close(FILE *pdf, char *text, size_t cap)
{
    char command[100];
    assert_int_equal(fclose(pdf), 0);
    snprintf(command, sizeof command, "pdftotext -raw -enc UTF-8 %s -", path);
    FILE *found = popen(command, "r");
    assert_non_null(found);
    size_t len = fread(text, 1, cap - 1, found);
    text[len] = '\0';
    assert_int_equal(pclose(found), 0);
    unlink(path);
    return len;
}
