/* Included first by every cmocka test. */
#ifndef RP_TEST_H
#define RP_TEST_H

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#endif
