/* Where the box's buttons and its jumper are: each to ground, with the chip's own pull-up.
 *
 * Buttons at PD2 (start), PD4 (resync), PD7 (call), PB1 (role); a jumper at PC1 says that this is practice.
 */
#ifndef TOCSIN_BOX_INPUTS_H
#define TOCSIN_BOX_INPUTS_H

#include <stdint.h>

enum { START, RESYNC, CALL, ROLE, INPUTS };

/* Switch the pull-ups on. */
void inputs_begin(void);

/* Return whether the pin of one of the buttons above is low. */
uint8_t input_is_low(uint8_t which);

/* Return whether the jumper is there. */
uint8_t inputs_practice(void);

#endif
