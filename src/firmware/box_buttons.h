/* Buttons to ground with a pull-up. A press counts from its first edge, however long the contact bounces; what is low as
   power comes counts only once it has been let go. Plain C: pins are read and times kept by the caller. */
#ifndef TOCSIN_BOX_BUTTONS_H
#define TOCSIN_BOX_BUTTONS_H

#include <stdint.h>

/* Contacts bounce for a few milliseconds, cheap ones for 10 (common practice, no source). */
#define BUTTON_SURE_MS 20
#define BUTTON_FREE_MS 30

typedef struct {
    uint8_t state, went;
    uint32_t edge_ms, since_ms;
} button;

/* What button_take found. */
enum { BUTTON_NOTHING = 0, BUTTON_PRESSED, BUTTON_LET_GO };

/* Begin with a button that has to be seen free before it counts. */
void button_begin(button *one, uint32_t now_ms);

/* Take whether the pin is low now. After BUTTON_PRESSED `edge_ms` says when the press began. */
uint8_t button_take(button *one, uint8_t low, uint32_t now_ms);

/* Return for how long it has been down, 0 while it is not. */
uint32_t button_held_ms(const button *one, uint32_t now_ms);

#endif
