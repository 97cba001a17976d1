#include "box_mark.h"

#include <stddef.h>
#include <string.h>
#include <util/crc16.h>

typedef struct {
    uint32_t magic;
    match_mark mark;
    uint16_t crc;
} copy;

#define RUNS 0x544F4353UL              /* four letters that no fresh RAM holds by chance */

static copy copies[2] __attribute__((section(".noinit")));

static uint16_t crc_of(const copy *one)
{
    const uint8_t *byte = (const uint8_t *)one;
    uint16_t crc = 0xFFFF;
    uint8_t i;
    for (i = 0; i < offsetof(copy, crc); i++)
        crc = _crc_ccitt_update(crc, byte[i]);
    return crc;
}

uint8_t mark_read(match_mark *into)
{
    uint8_t i;
    for (i = 0; i < 2; i++)
        if (copies[i].magic == RUNS && copies[i].crc == crc_of(&copies[i])) {
            *into = copies[i].mark;
            return 1;
        }
    return 0;
}

void mark_write(const match_mark *mark)
{
    copy made;
    memset(&made, 0, sizeof made);
    made.magic = RUNS;
    made.mark = *mark;
    made.crc = crc_of(&made);
    /* One after the other, and both before whatever comes next. */
    copies[0] = made;
    __asm__ volatile("" ::: "memory");
    copies[1] = made;
    __asm__ volatile("" ::: "memory");
}

void mark_clear(void)
{
    memset(copies, 0, sizeof copies);
}
