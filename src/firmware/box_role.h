/* Whose pad the box is: one of the five roles, kept in EEPROM behind the settings, together with its complement. */
#ifndef TOCSIN_BOX_ROLE_H
#define TOCSIN_BOX_ROLE_H

#include <stdint.h>

/* Read the role that was kept; the first one if none was. */
void role_begin(void);

/* Return the number that the plan gives to the role, or -1 if it has nothing for it. There has to be a plan. */
int role_number(void);

/* Go on to the next role that the plan has anything for, keep it, and let the lamp say its number. */
void role_next(uint32_t now_ms);

#endif
