/* What frames.h promises, for a board that plays by itself: commands are taken, frames of colours passed over. */
#include "frames.h"

#include "clock.h"
#include "receive.h"

/* The longest silence inside a block, as in frames.c. */
#define SILENCE_TICKS (5 * CLOCK_TICKS_A_MS)

uint8_t frames_whole;
uint8_t frames_payload[FRAMES_MOST_PAYLOAD];
uint16_t frames_length;

static enum { HUNTING, TYPE, HIGH, LOW, PAYLOAD, END } state;
static uint16_t place;

void frames_give_up(void)
{
    state = HUNTING;
}

/* Take a byte; return whether it ends a command. */
static uint8_t take(uint8_t byte)
{
    switch (state) {
    case TYPE:
        state = byte == TPM2_COMMAND ? HIGH : byte == TPM2_BEGIN ? TYPE : HUNTING;
        return 0;
    case HIGH:
        frames_length = (uint16_t)(byte << 8);
        state = LOW;
        return 0;
    case LOW:
        frames_length |= byte;
        place = 0;
        state = frames_length ? PAYLOAD : END;
        return 0;
    case PAYLOAD:
        if (place < FRAMES_MOST_PAYLOAD)
            frames_payload[place] = byte;
        if (++place == frames_length)
            state = END;
        return 0;
    case END:
        state = HUNTING;
        return byte == TPM2_END;
    default:
        state = byte == TPM2_BEGIN ? TYPE : HUNTING;
        return 0;
    }
}

enum heard frames_poll(void)
{
    uint8_t byte;
    enum received received;

    while ((received = receive_next(&byte)) != RECEIVED_NOTHING) {
        if (received == RECEIVED_TORN)
            state = HUNTING;
        else if (take(byte))
            return HEARD_COMMAND;
    }
    if (state != HUNTING && (uint16_t)(clock_ticks() - receive_last_ticks()) > SILENCE_TICKS)
        state = HUNTING;
    return HEARD_NOTHING;
}
