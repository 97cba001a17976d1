/* What the lamp says, by time alone. It never goes on more than twice in a second. Plain C. */
#ifndef TOCSIN_BOX_LAMP_H
#define TOCSIN_BOX_LAMP_H

#include <stdint.h>

enum lamp_look {
    LAMP_OFF,
    LAMP_ON,
    LAMP_SLOW,                         /* a second on, a second off */
    LAMP_FAST,                         /* a quarter on, a quarter off */
    LAMP_FAULT,                        /* two short blinks, a pause */
    LAMP_LOW                           /* a short blink each two seconds */
};

/* Show a number first: so many blinks. */
void lamp_count(uint8_t count, uint32_t now_ms);

uint8_t lamp_is_on(enum lamp_look look, uint32_t now_ms);

#endif
