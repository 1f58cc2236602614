/*
 * A board that is not there, for wash_main.c: a script over standard input presses buttons, and what the program
 * does with its pins is printed as it changes.
 *
 * A line of the script is: time [ms], then "pin P L" (a pin reads L), "adc COUNTS", "kept P V" and "forgets 1"
 * (before it begins: what is kept, and that nothing more is), "clock stops" or "end". The clock goes on by 1 ms a call. Ends with "watchdog" if it is not fed in time.
 */

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "wash_board.h"

enum { PINS = 256 };

static uint32_t now_ms, fed_ms, limit_ms, calls, next_ms;
static bool levels[PINS], is_output[PINS], stopped, forgets, has_next;
static uint16_t counts = 400;
static uint8_t kept[3] = {255, 255, 255};
static char next[64];

static void say(const char *what) { printf("%lu %s\n", (unsigned long)now_ms, what); }

static void do_line(void)
{
    int pin, level, place, value;
    unsigned adc;
    if (sscanf(next, "pin %d %d", &pin, &level) == 2) {
        levels[pin] = level != 0;
    } else if (sscanf(next, "adc %u", &adc) == 1) {
        counts = (uint16_t)adc;
    } else if (sscanf(next, "kept %d %d", &place, &value) == 2) {
        kept[place] = (uint8_t)value;
    } else if (strncmp(next, "forgets", 7) == 0) {
        forgets = true;
    } else if (strncmp(next, "clock", 5) == 0) {
        stopped = true;
    } else {
        say("end");
        exit(0);
    }
}

static void script(void)
{
    unsigned long at;
    for (;;) {
        if (!has_next) {
            has_next = scanf("%lu %63[^\n]", &at, next) == 2;
            next_ms = (uint32_t)at;
            if (!has_next) {
                say("end");
                exit(0);
            }
        }
        if (now_ms < next_ms) {
            return;
        }
        has_next = false;
        do_line();
    }
}

void board_output(uint8_t pin, bool high)
{
    is_output[pin] = true;
    levels[pin] = high;
    printf("%lu output %d %d\n", (unsigned long)now_ms, pin, high);
}

void board_input(uint8_t pin)
{
    if (is_output[pin]) {
        say("a pin is both");
        exit(1);
    }
    levels[pin] = true;
}

void board_write(uint8_t pin, bool high)
{
    if (!is_output[pin]) {
        say("a pin is written that is no output");
        exit(1);
    }
    if (levels[pin] != high) {
        printf("%lu write %d %d\n", (unsigned long)now_ms, pin, high);
    }
    levels[pin] = high;
}

bool board_read(uint8_t pin) { return levels[pin]; }

uint16_t board_adc(uint8_t pin)
{
    (void)pin;
    return counts;
}

uint32_t board_ms(void)
{
    calls++;
    now_ms += stopped ? 0U : 1U;
    script();
    if (limit_ms > 0U && (now_ms - fed_ms > limit_ms || calls > 1000000U)) {
        say("watchdog");
        exit(0);
    }
    return now_ms;
}

void board_watchdog_begin(uint16_t ms)
{
    limit_ms = ms;
    fed_ms = now_ms;
    script();
}

void board_watchdog_feed(void)
{
    fed_ms = now_ms;
    calls = 0;
}

void board_log(const char *line) { printf("%lu log %s\n", (unsigned long)now_ms, line); }

uint8_t board_kept(uint8_t place) { return kept[place]; }

void board_keep(uint8_t place, uint8_t value)
{
    kept[place] = forgets ? kept[place] : value;
    printf("%lu keep %d %d\n", (unsigned long)now_ms, place, value);
}
