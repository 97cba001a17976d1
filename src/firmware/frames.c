#include "frames.h"

#include <string.h>

#include "clock.h"
#include "leds.h"
#include "receive.h"
#include "settings.h"

#define TICKS_A_MS CLOCK_TICKS_A_MS
/* The longest silence inside a frame. With 50 ms the frame behind a cut one was taken for its rest. */
#define SILENCE_TICKS (5 * TICKS_A_MS)
/* Two bytes at 115,200 baud take 174 us: whatever has not followed by then did not belong to the frame. */
#define TRAIL_TICKS (TICKS_A_MS / 4)

enum state {
    HUNTING,
    ADALIGHT_D, ADALIGHT_A, ADALIGHT_HIGH, ADALIGHT_LOW, ADALIGHT_SUM, ADALIGHT_DATA,
    TPM2_TYPE, TPM2_HIGH, TPM2_LOW, TPM2_FRAME, TPM2_PAYLOAD, TPM2_LAST,
    TRAIL
};

uint8_t frames_whole, frames_begun;
uint8_t frames_payload[FRAMES_MOST_PAYLOAD];
uint16_t frames_length;

static enum state state;
static uint8_t type, high, low;
static uint16_t left, place, room;      /* bytes to come; where the next one goes; up to where there is room */
static uint16_t leds, leds_before;      /* of this frame, and of the last whole one */
static uint8_t unproven;                /* a whole frame is there, and one byte behind it that may begin another */
static uint32_t byte_ms;

static void give_up(void)
{
    state = HUNTING;
    unproven = 0;
}

void frames_give_up(void)
{
    give_up();
    frames_whole = 0;
}

const uint8_t *frames_end(void)
{
    return state == ADALIGHT_DATA || state == TPM2_FRAME ? leds_frame + place : leds_frame;
}

uint32_t frames_silent_ms(void)
{
    return clock_ms() - byte_ms;
}

/* Begin with the colours of a frame; return whether it has as many as a frame may have. */
static uint8_t begin_frame(uint16_t bytes)
{
    leds = bytes / 3;
    left = bytes;
    place = 0;
    room = (uint16_t)(3 * settings.leds);
    frames_begun++;
    return bytes > 0 && leds * 3 == bytes;
}

static void store(uint8_t byte)
{
    frames_whole = 0;
    if (place < room)
        leds_frame[place++] = byte;
    left--;
}

/* A frame has ended as it should: make the LEDs black that it leaves out. */
static enum heard ended(void)
{
    uint8_t known = leds == settings.leds || leds == leds_before;

    unproven = 0;
    leds_before = leds;
    memset(leds_frame + place, 0, (size_t)(room - place));
    frames_whole = known;
    return !known ? HEARD_NOTHING : type == TPM2_DATA ? HEARD_TPM2 : HEARD_ADALIGHT;
}

static enum state hunted(uint8_t byte)
{
    return byte == 'A' ? ADALIGHT_D : byte == TPM2_BEGIN ? TPM2_TYPE : HUNTING;
}

/* Take the second byte of a header. If it is one, the frame before has ended there. */
static enum heard take_second(uint8_t byte)
{
    uint8_t is_header = state == ADALIGHT_D ? byte == 'd' : byte == TPM2_DATA || byte == TPM2_COMMAND;
    enum heard heard = is_header && unproven ? ended() : HEARD_NOTHING;

    unproven = 0;
    if (!is_header) {
        state = hunted(byte);
    } else if (state == ADALIGHT_D) {
        state = ADALIGHT_A;
    } else {
        type = byte;
        state = TPM2_HIGH;
    }
    return heard;
}

/* Take a later byte of a header, or the first. */
static void take_header(uint8_t byte)
{
    uint16_t bytes;

    switch (state) {
    case ADALIGHT_A:
        state = byte == 'a' ? ADALIGHT_HIGH : hunted(byte);
        break;
    case ADALIGHT_HIGH:
        high = byte;
        state = ADALIGHT_LOW;
        break;
    case ADALIGHT_LOW:
        low = byte;
        state = ADALIGHT_SUM;
        break;
    case ADALIGHT_SUM:
        /* More than 21,845 LEDs are no strip, and their bytes are more than can be counted. */
        bytes = (uint16_t)(((uint16_t)high << 8 | low) + 1);
        type = 0;
        state = byte == (high ^ low ^ 0x55) && bytes <= UINT16_MAX / 3 && begin_frame((uint16_t)(3 * bytes))
            ? ADALIGHT_DATA : hunted(byte);
        break;
    case TPM2_HIGH:
        high = byte;
        state = TPM2_LOW;
        break;
    case TPM2_LOW:
        bytes = (uint16_t)((uint16_t)high << 8 | byte);
        if (type == TPM2_COMMAND) {
            frames_length = left = bytes;
            place = 0;
            state = bytes ? TPM2_PAYLOAD : TPM2_LAST;
        } else {
            state = begin_frame(bytes) ? TPM2_FRAME : hunted(byte);
        }
        break;
    default:
        state = hunted(byte);
        break;
    }
}

static enum heard take(uint8_t byte)
{
    switch (state) {
    case ADALIGHT_DATA:
        store(byte);
        if (!left)
            state = TRAIL;
        break;
    case TRAIL:
        state = hunted(byte);
        unproven = state != HUNTING;    /* else a byte too many: some colours are not where they belong */
        break;
    case ADALIGHT_D:
    case TPM2_TYPE:
        return take_second(byte);
    case TPM2_FRAME:
        store(byte);
        if (!left)
            state = TPM2_LAST;
        break;
    case TPM2_PAYLOAD:
        if (place < FRAMES_MOST_PAYLOAD)
            frames_payload[place++] = byte;
        if (!--left)
            state = TPM2_LAST;
        break;
    case TPM2_LAST:
        if (byte != TPM2_END) {
            state = hunted(byte);
            break;
        }
        if (type == TPM2_COMMAND) {
            state = HUNTING;
            return HEARD_COMMAND;
        }
        state = TRAIL;
        break;
    default:
        take_header(byte);
        break;
    }
    return HEARD_NOTHING;
}

/* Take colours that are there, all at once: one by one they would take longer than they come. */
static void take_colours(void)
{
    uint16_t most = left < (uint16_t)(room - place) ? left : (uint16_t)(room - place);
    uint8_t some;

    if (state != ADALIGHT_DATA && state != TPM2_FRAME)
        return;
    some = receive_some(leds_frame + place, (uint8_t)(most > UINT8_MAX ? UINT8_MAX : most));
    if (!some)
        return;
    frames_whole = 0;
    place = (uint16_t)(place + some);
    left = (uint16_t)(left - some);
    byte_ms = clock_ms();
    if (!left)
        state = state == TPM2_FRAME ? TPM2_LAST : TRAIL;
}

enum heard frames_poll(void)
{
    uint8_t byte = 0;
    uint16_t last, silent;

    for (uint8_t most = UINT8_MAX; most; most--) {          /* a flood must not keep the rest waiting */
        enum received received;
        enum heard heard;

        take_colours();
        received = receive_next(&byte);
        if (received == RECEIVED_NOTHING)
            break;
        byte_ms = clock_ms();
        if (received == RECEIVED_TORN) {
            give_up();
            continue;
        }
        heard = take(byte);
        if (heard != HEARD_NOTHING)
            return heard;
    }
    if (state == HUNTING)
        return HEARD_NOTHING;
    last = receive_last_ticks();            /* first: a byte that comes just now would lie ahead of the clock */
    silent = (uint16_t)(clock_ticks() - last);
    if (state == TRAIL && silent > TRAIL_TICKS) {
        state = HUNTING;
        return ended();
    }
    if (silent > SILENCE_TICKS)
        give_up();
    return HEARD_NOTHING;
}
