#include "box_buttons.h"

/* blocked: not seen free yet; free; coming: low, not sure yet; down. `since_ms` is when the pin last changed. */
enum { BLOCKED = 0, FREE, COMING, DOWN };

void button_begin(button *one, uint32_t now_ms)
{
    one->state = BLOCKED;
    one->went = 1;
    one->edge_ms = one->since_ms = now_ms;
}

uint8_t button_take(button *one, uint8_t low, uint32_t now_ms)
{
    uint32_t steady_ms;
    if (low != one->went) {
        one->went = low;
        one->since_ms = now_ms;
    }
    steady_ms = now_ms - one->since_ms;
    if (!low && one->state != FREE && steady_ms >= BUTTON_FREE_MS) {
        const uint8_t was = one->state;
        one->state = FREE;
        return was == DOWN ? BUTTON_LET_GO : BUTTON_NOTHING;
    }
    if (low && one->state == FREE) {
        one->state = COMING;
        one->edge_ms = now_ms;
    }
    /* A spike is over before it is sure: of the last 20 ms the contact rested for the latter half. */
    if (low && one->state == COMING && now_ms - one->edge_ms >= BUTTON_SURE_MS && steady_ms >= BUTTON_SURE_MS / 2) {
        one->state = DOWN;
        return BUTTON_PRESSED;
    }
    return BUTTON_NOTHING;
}

uint32_t button_held_ms(const button *one, uint32_t now_ms)
{
    return one->state == DOWN ? now_ms - one->edge_ms : 0;
}
