#include "settings.h"

#include <avr/eeprom.h>
#include <avr/wdt.h>
#include <util/crc16.h>

#include "leds.h"
#include "receive.h"

#define COPY_BYTES (SETTINGS_BYTES + 1)
#define LEAST_MA 50
#define MOST_MA 20000
#define MOST_PPM 20000

struct settings settings = {
    .leds = MOST_LEDS < 60 ? MOST_LEDS : 60, .order = ORDER_GRB, .max_ma = 390, .baud = BAUD_115200, .clock_ppm = 0
};

static uint8_t loaded;                  /* the copy that was read: the other one is written first */

static uint8_t *copy_at(uint8_t copy)
{
    return (uint8_t *)(uintptr_t)(copy * COPY_BYTES);
}

static uint8_t checksum(const uint8_t *bytes)
{
    uint8_t crc = 0;

    for (uint8_t n = 0; n < SETTINGS_BYTES; n++)
        crc = _crc8_ccitt_update(crc, bytes[n]);
    return crc;
}

static uint16_t number(const uint8_t *bytes)
{
    return (uint16_t)((uint16_t)bytes[0] << 8 | bytes[1]);
}

static enum settings_error take(const uint8_t *bytes)
{
    struct settings wanted;

    if (checksum(bytes) != bytes[SETTINGS_BYTES])
        return SETTINGS_WRONG_CHECKSUM;
    wanted.leds = number(bytes + 1);
    wanted.order = bytes[3];
    wanted.max_ma = number(bytes + 4);
    wanted.baud = bytes[6];
    wanted.clock_ppm = (int16_t)number(bytes + 7);
    if (bytes[0] != SETTINGS_LAYOUT || wanted.leds < 1 || wanted.leds > MOST_LEDS || wanted.order >= ORDERS
        || wanted.max_ma < LEAST_MA || wanted.max_ma > MOST_MA || wanted.max_ma <= wanted.leds || wanted.baud >= BAUDS
        || wanted.clock_ppm < -MOST_PPM || wanted.clock_ppm > MOST_PPM)
        return SETTINGS_OUT_OF_RANGE;
    settings = wanted;
    return SETTINGS_TAKEN;
}

uint8_t settings_load(void)
{
    uint8_t bytes[COPY_BYTES];

    for (loaded = 0; loaded < 2; loaded++) {
        eeprom_read_block(bytes, copy_at(loaded), COPY_BYTES);
        if (take(bytes) == SETTINGS_TAKEN)
            return 1;
    }
    loaded = 0;
    return 0;
}

enum settings_error settings_store(const uint8_t *bytes)
{
    enum settings_error error = take(bytes);

    if (error != SETTINGS_TAKEN)
        return error;
    loaded = !loaded;
    for (uint8_t n = 0; n < 2; n++) {
        wdt_reset();
        eeprom_update_block(bytes, copy_at(loaded), COPY_BYTES);
        loaded = !loaded;
    }
    eeprom_busy_wait();
    return SETTINGS_TAKEN;
}

void settings_write(uint8_t *bytes)
{
    uint16_t ppm = (uint16_t)settings.clock_ppm;

    bytes[0] = SETTINGS_LAYOUT;
    bytes[1] = (uint8_t)(settings.leds >> 8);
    bytes[2] = (uint8_t)settings.leds;
    bytes[3] = settings.order;
    bytes[4] = (uint8_t)(settings.max_ma >> 8);
    bytes[5] = (uint8_t)settings.max_ma;
    bytes[6] = settings.baud;
    bytes[7] = (uint8_t)(ppm >> 8);
    bytes[8] = (uint8_t)ppm;
}
