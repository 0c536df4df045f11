#include "radio/drivers/at_errors.h"

#include <stddef.h>

#include "ridgepost/error.h"

/* Numbers: REYAX RYLR998/RYLR498 AT command guide 56312E33 (2025); 3 and 11 from the RYLR896/
 * RYLR406 guide 56322E33 (2022). */
static const struct rp_at_error table[] = {
    {.number = 1,
     .code = RP_E_IO,
     .sentence = "error 1: the command came without its line end; check cable and speed"},
    {.number = 2,
     .code = RP_E_IO,
     .sentence = "error 2: the command did not begin with AT; check cable and speed"},
    {.number = 3,
     .code = RP_E_IO,
     .sentence = "error 3: the command came without its =; check cable and speed"},
    {.number = 4,
     .code = RP_E_INVALID,
     .sentence = "error 4: unknown command or value; check the radio family and the settings"},
    {.number = 5,
     .code = RP_E_IO,
     .sentence = "error 5: length and data differ; bytes were lost, check cable and speed"},
    {.number = 10,
     .code = RP_E_TIMEOUT,
     .maybe_aired = true,
     .sentence = "error 10: sending took too long; lower spreading_factor or send less"},
    {.number = 11,
     .code = RP_E_TIMEOUT,
     .receive_side = true,
     .sentence = "error 11: receiving took too long"},
    {.number = 12,
     .code = RP_E_FORMAT,
     .receive_side = true,
     .sentence = "error 12: a frame arrived damaged"},
    {.number = 13, .code = RP_E_TOO_LONG, .sentence = "error 13: more than 240 bytes of data"},
    {.number = 14,
     .code = RP_E_IO,
     .sentence = "error 14: the module could not store a setting; replace it if this stays"},
    {.number = 15,
     .code = RP_E_IO,
     .maybe_aired = true,
     .sentence = "error 15: unknown failure in the module; check supply and antenna"},
    {.number = 17,
     .code = RP_E_BUSY,
     .hold = true,
     .sentence = "error 17: the last transmission has not ended"},
    {.number = 18,
     .code = RP_E_INVALID,
     .sentence = "error 18: preamble_symbols not possible here; use 12, or sync_word 0x12"},
    {.number = 19,
     .code = RP_E_FORMAT,
     .receive_side = true,
     .sentence = "error 19: the header of a frame arrived damaged"},
    {.number = 20,
     .code = RP_E_INVALID,
     .sentence = "error 20: the times of the power-saving mode are wrong"},
};

static const struct rp_at_error unlisted = {
    .code = RP_E_IO,
    .maybe_aired = true,
    .sentence = "an error the command reference does not list; check the module's firmware",
};

const struct rp_at_error *rp_at_error_find(int32_t number)
{
    for (size_t i = 0; i < sizeof table / sizeof table[0]; i++) {
        if (table[i].number == number) {
            return &table[i];
        }
    }
    return &unlisted;
}
