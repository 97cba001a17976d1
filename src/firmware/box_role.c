#include "box_role.h"

#include <avr/eeprom.h>

#include "box_lamp.h"
#include "plan.h"

#define ROLE_AT ((uint8_t *)64)
#define MOST_ROLES ((int)sizeof TOCSIN_HEADER->role_of)

static uint8_t role;

void role_begin(void)
{
    const uint8_t kept = eeprom_read_byte(ROLE_AT);
    const uint8_t complement = eeprom_read_byte(ROLE_AT + 1);

    role = (kept ^ complement) == 0xFF && kept < MOST_ROLES ? kept : 0;
}

int role_number(void)
{
    return (int8_t)TOCSIN_U8(TOCSIN_HEADER->role_of[role]);
}

void role_next(uint32_t now_ms)
{
    int tried = 0;

    do
        role = (uint8_t)((role + 1) % MOST_ROLES);
    while (role_number() < 0 && ++tried < MOST_ROLES);
    eeprom_update_byte(ROLE_AT, role);
    eeprom_update_byte(ROLE_AT + 1, (uint8_t)~role);
    lamp_count((uint8_t)(role + 1), now_ms);
}
