/* The one list of errors. Every function that can fail returns 0 (or a count) on success and one
 * of these negative codes on failure; `out_` parameters are then left untouched. */
#ifndef RIDGEPOST_ERROR_H
#define RIDGEPOST_ERROR_H

/* X(name, code, sentence): the sentence is what a person reads when nothing better is known. */
#define RP_ERRORS(X)                                                                               \
    X(RP_E_INVALID, -1, "a value is outside its bounds")                                           \
    X(RP_E_TRUNCATED, -2, "the bytes end too early")                                               \
    X(RP_E_FORMAT, -3, "the bytes do not follow the format")                                       \
    X(RP_E_VERSION, -4, "made by a newer version of the program")                                  \
    X(RP_E_AUTH, -5, "the seal does not verify: another net, or damaged")                          \
    X(RP_E_DUPLICATE, -6, "already held")                                                          \
    X(RP_E_NOT_FOUND, -7, "not found")                                                             \
    X(RP_E_FULL, -8, "no room left in a bounded table")                                            \
    X(RP_E_BUSY, -9, "busy, try again")                                                            \
    X(RP_E_TOO_LONG, -10, "too long")                                                              \
    X(RP_E_STATE, -11, "not possible in the present state")                                        \
    X(RP_E_IO, -12, "input or output failed")                                                      \
    X(RP_E_NO_SPACE, -13, "the disk is full")                                                      \
    X(RP_E_PERMISSION, -14, "permission denied")                                                   \
    X(RP_E_TAKEN, -15, "in use by another program")                                                \
    X(RP_E_GONE, -16, "the device went away")                                                      \
    X(RP_E_TIMEOUT, -17, "no answer in time")                                                      \
    X(RP_E_CORRUPT, -18, "stored data is damaged")                                                 \
    X(RP_E_BUDGET, -19, "the airtime budget of this hour is spent")                                \
    X(RP_E_MEMORY, -20, "out of memory")                                                           \
    X(RP_E_AMBIGUOUS, -21, "matches more than one")                                                \
    X(RP_E_UNSUPPORTED, -22, "not supported here")                                                 \
    X(RP_E_CONFLICT, -23, "contradicts what is already known")                                     \
    X(RP_E_CONFIRM, -24, "unlikely: confirm it to record it")

enum rp_error {
    RP_OK = 0,
#define RP_ERROR_ENUM(name, code, sentence) name = code,
    RP_ERRORS(RP_ERROR_ENUM)
#undef RP_ERROR_ENUM
};

#endif
