#include "commands.h"

#include "clock.h"
#include "frames.h"
#include "leds.h"
#include "receive.h"
#include "reset.h"
#include "settings.h"

enum error { ERROR_UNKNOWN = 1, ERROR_LENGTH = 2 };

#define INFO_BYTES (5 + SETTINGS_BYTES)

static void send(const uint8_t *payload, uint8_t length)
{
    receive_answer(TPM2_BEGIN);
    receive_answer(TPM2_ANSWER);
    receive_answer(0);
    receive_answer(length);
    while (length--)
        receive_answer(*payload++);
    receive_answer(TPM2_END);
}

static void send_info(enum kind kind)
{
    uint8_t payload[1 + INFO_BYTES] = {'I', kind, FIRMWARE_VERSION, MOST_LEDS >> 8, MOST_LEDS & 0xFF};

    settings_write(payload + 5);
    payload[INFO_BYTES] = reset_cause;
    send(payload, sizeof payload);
}

static void send_error(uint8_t error)
{
    uint8_t payload[] = {'E', error};

    send(payload, sizeof payload);
}

static void send_clock(uint32_t us)
{
    uint8_t payload[] = {'K', (uint8_t)(us >> 24), (uint8_t)(us >> 16), (uint8_t)(us >> 8), (uint8_t)us};

    send(payload, sizeof payload);
}

uint8_t commands_answer(enum kind kind)
{
    const uint16_t length = frames_payload[0] == 'W' ? SETTINGS_BYTES + 2 : 1;
    uint32_t came_us = clock_us_at(receive_last_ticks());
    uint8_t verb = frames_length ? frames_payload[0] : 0;
    enum settings_error error;

    if (verb != 'I' && verb != 'W' && verb != 'K') {
        send_error(ERROR_UNKNOWN);
        return 0;
    }
    if (frames_length != length) {
        send_error(ERROR_LENGTH);
        return 0;
    }
    if (verb == 'K') {
        send_clock(came_us);
        return 0;
    }
    if (verb == 'I') {
        send_info(kind);
        return 0;
    }
    error = settings_store(frames_payload + 1);
    if (error != SETTINGS_TAKEN) {
        send_error(error);
        return 0;
    }
    send_info(kind);
    receive_answered();
    receive_begin(settings.baud);
    clock_calibrate(settings.clock_ppm);
    frames_give_up();
    return 1;
}
