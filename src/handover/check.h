/* The parts of a sheet's check. Internal to the room.
 *
 * The check covers every row of the model but the head, completeness, cautions and foot, and in
 * these rows every item but those that change with the time of printing (ages, minutes still
 * running). Each item adds its kind, the keys of its fixed words, its numbers and its entered text,
 * numbers as 8 bytes, least significant first, texts with a NUL behind them. So two sheets of the
 * same facts have the same check whenever, wherever and in whatever language they are printed. */
#ifndef RP_HANDOVER_CHECK_H
#define RP_HANDOVER_CHECK_H

#include <stdint.h>

#include "handover/model.h"
#include "ridgepost/view.h"

/* What the check covers of one row, as a number: the same whenever, wherever and in whatever
 * language it is printed, so that two sheets can be compared row by row. */
uint32_t rp_sheet_row_sum(const struct rp_sheet_row *row);
/* CRC-32 as in IEEE 802.3 (CRC catalogue: CRC-32/ISO-HDLC). */
uint32_t rp_sheet_crc32(struct rp_view bytes);
/* The upper 20 bits as 4 characters of 23456789ABCDEFGHJKLMNPQRSTUVWXYZ, highest bits first. */
void rp_sheet_check_letters(uint32_t crc, char out_check[5]);

#endif
