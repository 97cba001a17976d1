/* What the board knows of its strip, kept in EEPROM twice, so that a write torn by a power cut leaves the other one. */

#ifndef TOCSIN_SETTINGS_H
#define TOCSIN_SETTINGS_H

#include <stdint.h>

#define SETTINGS_LAYOUT 1
#define SETTINGS_BYTES 9                /* on the line and in EEPROM: numbers big-endian, without checksum */

enum order { ORDER_RGB, ORDER_RBG, ORDER_GRB, ORDER_GBR, ORDER_BRG, ORDER_BGR, ORDERS };

struct settings {
    uint16_t leds;                      /* 1 to MOST_LEDS */
    uint8_t order;                      /* which colour the strip takes first */
    uint16_t max_ma;                    /* 50 to 20,000 mA, and more than the LEDs draw when they are dark */
    uint8_t baud;                       /* see receive.h */
    int16_t clock_ppm;                  /* how fast the chip's clock runs, millionths */
};

enum settings_error { SETTINGS_TAKEN = 0, SETTINGS_OUT_OF_RANGE = 3, SETTINGS_WRONG_CHECKSUM = 4 };

extern struct settings settings;

/* Read the settings. Where neither copy is valid: what settings holds so far, at first 60 LEDs in GRB, 390 mA,
   115,200 baud. Return whether a copy was valid. */
uint8_t settings_load(void);

/* Check settings and their checksum (SETTINGS_BYTES + 1 bytes), keep them in EEPROM and use them. Takes 70 ms. */
enum settings_error settings_store(const uint8_t *bytes);

/* Write the settings in use, SETTINGS_BYTES bytes. */
void settings_write(uint8_t *bytes);

#endif
