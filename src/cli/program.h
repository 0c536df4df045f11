/* Other programs that the command line hands a sheet to: the page program, the printer's. */
#ifndef RP_CLI_PROGRAM_H
#define RP_CLI_PROGRAM_H

#include <stdbool.h>
#include <stddef.h>

#define RP_PROGRAM_WORDS 16 /* of a command, its last NULL included */

/* Cuts a command at its spaces, into `buf`; never through a shell. */
void rp_program_words(const char *command, char *buf, size_t cap,
                      const char *words[RP_PROGRAM_WORDS]);

/* Runs words[0] with `input` on its standard input and waits. With out_text its standard output is
 * kept there (the caller's, *out_len bytes and a NUL), else it is this program's. Returns its exit
 * status, or -1 when it cannot be run or ended by a signal. */
int rp_program_run(const char *const *words, const char *input, size_t len, char **out_text,
                   size_t *out_len);

#endif
