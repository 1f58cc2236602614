/*
 * An example program around wash_controller.c: buttons, relays, thermistor, switches, watchdog, serial log.
 *
 * SPDX-License-Identifier: MIT
 *
 * AN EXAMPLE TO START FROM, NOT A PRODUCT. It was compiled against a simulated board, never run on yours.
 *
 * CAUTIONS
 * - Mains voltage and water kill. Wiring, protective earth and the earth-fault device are work for a licensed
 *   electrician; local codes and licensed practice come first. Nothing of the microcontroller, its buttons and
 *   its sensors may touch what is tied to the mains: use relays and couplers with reinforced insulation.
 * - No program makes an element safe. The float switch in series with the element, the thermal cut-out with
 *   manual reset on its sheath and the lid switch in the supply are wired, not programmed. What is read here
 *   is only read back.
 * - Every relay must be OFF while the board resets, starts or is not powered: choose RELAY_ON so, and give
 *   every relay's input a resistor (10 kilohms) to its off level. Watch it: press reset with the outputs
 *   unplugged, and see that no relay so much as clicks.
 * - Without the hardware watchdog a program that hangs leaves the element on. Try it: hold the loop up.
 * - First run: the rehearsal, element unplugged, no ware in it, somebody at the plug. Hot water and steam
 *   scald. Never leave it running alone, or while you sleep.
 *
 * ONE BUTTON: a short press takes the next programme, a long press starts it. In a run any press stops it at
 * once. A second button, if there is one: a long press leaves out what is left of the round before its drain.
 * Held by the lid: shut it, then a long press goes on, a short one ends the run. While a start waits because the
 * bath may be too hot for the drain pipe, a short press ends the wait and the run, and a press held for 10 s, one that
 * began in the wait, says that you have looked, with a thermometer, never by hand: the tank is empty or its water cool
 * enough for the drain pipe, AND the ware in it is no hotter than the file of the constants allows after a power cut.
 * Open the lid away from your face. See the top of wash_controller.c.
 *
 * Write the functions of wash_board.h, fill in the numbers below, and compile with -DWASH_BOARD_FILLED_IN and
 * -DWASH_STEPS_MAX_PER_S=100.
 */

#include <stddef.h>

#include "wash_board.h"
#include "wash_controller.h"

#ifndef WASH_BOARD_FILLED_IN
#error "fill in pins, relays and thermistor for your board, read the cautions, then state WASH_BOARD_FILLED_IN"
#endif

/* Fill in: pins as your board's library counts them; NONE where there is no such thing */
#define NONE 255U
#ifndef PIN_INLET
#define PIN_INLET 2U
#define PIN_ELEMENT 3U
#define PIN_WASH_PUMP 4U
#define PIN_DRAIN_PUMP 5U
#define PIN_BUTTON 6U      /* to ground */
#define PIN_SKIP NONE      /* second button, to ground */
#define PIN_FLOAT 7U       /* a contact of its own in the float switch: to ground while water covers the element */
#define PIN_LEVEL NONE     /* level switch that ends a fill: to ground while full */
#define PIN_OVERFLOW 8U    /* overflow switch: OPENS at an overflow, so that a broken wire counts as one */
#define PIN_LID 9U         /* a contact of its own in the lid switch: to ground while shut. NONE: nothing reads it */
#define PIN_THERMISTOR 0U  /* converter's input: thermistor to ground, series resistor to the reference */
#endif

/* Fill in: the level at which a relay is on. It must not be the level of a pin that is reset. */
#ifndef RELAY_ON
#define RELAY_ON true
#endif

/* Fill in: two-point calibration. What is shown in ice water and in hot water, and what a thermometer beside it
   shows there [0.1 C]. */
#ifndef READ_COLD_DC
#define READ_COLD_DC 0
#define TRUE_COLD_DC 0
#define READ_HOT_DC 600
#define TRUE_HOT_DC 600
#endif

#if READ_HOT_DC - READ_COLD_DC < 200
#error "READ_COLD_DC, READ_HOT_DC: two readings at least 20 K apart, the colder one first"
#endif
#if TRUE_COLD_DC - READ_COLD_DC > 100 || READ_COLD_DC - TRUE_COLD_DC > 100 \
    || TRUE_HOT_DC - READ_HOT_DC > 100 || READ_HOT_DC - TRUE_HOT_DC > 100
#error "TRUE_COLD_DC, TRUE_HOT_DC: more than 10 K from what was read; it is another thermistor than the table's"
#endif

#define LOOP_MS 10U       /* a step so often */
#define STEADY_MS 30U     /* a button must stay so long to count */
#define LONG_MS 1500U     /* a long press */
#define LOOKED_MS 10000U  /* a press that nobody gives because nothing moves: somebody has looked into the tank */
#define LOG_MS 1000U
#define WATCHDOG_MS 1000U /* longer than a step and its hooks, shorter than harm */

/* Temperature at each 64th of the converter's range [0.1 C], for the thermistor
   10000 ohms at 25 C, B 3950 K, 10000 ohms in series.
   Another one: scullion constants --thermistor. The ends stand for a broken wire and a short circuit. */
static const int16_t thermistor_dc[65] = {
    1999, 1607, 1293, 1127, 1016, 933, 866, 811, 763, 722, 685, 652, 621,
    593, 567, 543, 520, 498, 477, 458, 439, 421, 403, 386, 370, 354,
    338, 323, 308, 293, 278, 264, 250, 236, 222, 208, 194, 181, 167,
    153, 139, 125, 111, 97, 83, 68, 53, 37, 22, 5, -11, -29,
    -47, -66, -87, -108, -132, -157, -186, -218, -256, -302, -364, -460, -600,
};

static wash_t wash;
static wash_log_t wash_log_state;

static bool closed(uint8_t pin) { return !board_read(pin); }

static uint32_t clock_ms(void *context)
{
    (void)context;
    return board_ms();
}

static void relay(uint8_t pin, bool on) { board_write(pin, on ? RELAY_ON : !RELAY_ON); }

static void outputs(void *context, uint8_t on)
{
    (void)context;
    relay(PIN_INLET, (on & WASH_ON_INLET) != 0);
    relay(PIN_ELEMENT, (on & WASH_ON_ELEMENT) != 0);
    relay(PIN_WASH_PUMP, (on & WASH_ON_WASH_PUMP) != 0);
    relay(PIN_DRAIN_PUMP, (on & WASH_ON_DRAIN_PUMP) != 0);
}

static bool bath(void *context, int16_t *bath_dc)
{
    const uint16_t counts = board_adc(PIN_THERMISTOR);
    const uint16_t part = counts / 16U;
    const int32_t span_dk = READ_HOT_DC - READ_COLD_DC;
    int32_t dc;
    (void)context;
    if (part == 0U || part >= 63U) {
        return false; /* short circuit, broken wire */
    }
    /* No quotient is below 0: each is rounded down, as in MicroPython */
    dc = thermistor_dc[part + 1U];
    dc += (thermistor_dc[part] - dc) * (16 - (int32_t)(counts % 16U)) / 16;
    dc = (dc - READ_COLD_DC) * (TRUE_HOT_DC - TRUE_COLD_DC) + 4096 * span_dk;
    *bath_dc = (int16_t)(TRUE_COLD_DC + dc / span_dk - 4096);
    return true;
}

static bool full(void *context)
{
    (void)context;
    return closed(PIN_LEVEL);
}

static bool covered(void *context)
{
    (void)context;
    return closed(PIN_FLOAT);
}

static bool overflow(void *context)
{
    (void)context;
    return !closed(PIN_OVERFLOW);
}

static bool lid_shut(void *context)
{
    (void)context;
    return closed(PIN_LID);
}

/* What is kept, a byte each, so that a power cut in a write spoils no more than one: the number of the chosen
   programme, 1 while it runs, and what the tank is: only IS_COOL says that it is cool, not 255 of a new board */
enum { KEPT_NUMBER = 0, KEPT_RUNNING = 1, KEPT_TANK = 2, IS_COOL = 0x5A, IS_HOT = 0xA5 };

/* Of a number that no programme has (a new board, fewer programmes than before, a spoilt byte) nobody knows what
   was running: the first programme is chosen, and nothing begins again by itself, now or at the next power-up */
static void mend_kept(void)
{
    if (board_kept(KEPT_NUMBER) >= wash_programme_count()) {
        board_keep(KEPT_RUNNING, 0U);
        board_keep(KEPT_NUMBER, 0U);
    }
}

static bool was_running(void *context)
{
    (void)context;
    return board_kept(KEPT_RUNNING) == 1U;
}

static void set_running(void *context, bool running)
{
    (void)context;
    board_keep(KEPT_RUNNING, running ? 1U : 0U);
}

static bool was_cool(void *context)
{
    (void)context;
    return board_kept(KEPT_TANK) == IS_COOL;
}

static void set_cool(void *context, bool cool)
{
    (void)context;
    board_keep(KEPT_TANK, cool ? IS_COOL : IS_HOT);
}

enum { NOTHING, PRESSED, SHORT, LONG, LOOKED };

/* A button: whether it is down, since when, and what has been told of this press: NOTHING, LONG or LOOKED */
typedef struct {
    uint8_t pin;
    bool down;
    uint8_t told;
    uint32_t changed_ms; /* when the pin last read otherwise than `down` began to */
    uint32_t since_ms;   /* when it went down */
} button_t;

/* What a button did since it was last asked: went down, was let go soon, has been held for long, or for 10 s */
static uint8_t ask(button_t *button, uint32_t now_ms)
{
    if (button->pin == NONE || closed(button->pin) == button->down) {
        button->changed_ms = now_ms;
    } else if (now_ms - button->changed_ms >= STEADY_MS) {
        button->down = !button->down;
        button->changed_ms = now_ms;
        if (button->down) {
            button->since_ms = now_ms;
            button->told = NOTHING;
            return PRESSED;
        }
        return button->told == NOTHING ? SHORT : NOTHING;
    }
    if (button->down && button->told == NOTHING && now_ms - button->since_ms >= LONG_MS) {
        button->told = LONG;
        return LONG;
    }
    if (button->down && button->told == LONG && now_ms - button->since_ms >= LOOKED_MS) {
        button->told = LOOKED;
        return LOOKED;
    }
    return NOTHING;
}

static void act(button_t *button, button_t *skip, uint32_t now_ms)
{
    const uint8_t asked = ask(button, now_ms);
    uint8_t number = board_kept(KEPT_NUMBER);
    if (ask(skip, now_ms) == LONG) {
        (void)wash_skip(&wash);
    }
    if (wash.state == WASH_STATE_HELD || wash.state == WASH_STATE_COOL) {
        if (asked == LONG && wash.state == WASH_STATE_HELD) {
            (void)wash_start(&wash);
            button->told = LOOKED; /* however long it is held: it was no look into the tank */
        } else if (asked == LOOKED && wash.state == WASH_STATE_COOL) {
            (void)wash_tank_is_cool(&wash); /* not at a long press: who sees nothing move presses again */
        } else if (asked == SHORT) {
            wash_stop(&wash);
        }
        return;
    }
    if (wash.state != WASH_STATE_IDLE) {
        if (asked == PRESSED) {
            wash_stop(&wash);
            button->told = LOOKED; /* the same press chooses and starts nothing */
        }
        return;
    }
    if (asked == SHORT) {
        number = (uint8_t)(number + 1U < wash_programme_count() ? number + 1U : 0U);
        if (wash_choose(&wash, wash_programme(number))) {
            board_keep(KEPT_NUMBER, number);
        }
    } else if (asked == LONG) {
        (void)wash_start(&wash);
        button->told = LOOKED;
    }
}

/* Put a text into a line */
static char *put(char *at, const char *text)
{
    while (*text != '\0') {
        *at++ = *text++;
    }
    return at;
}

/* Put what the state is, or the error: as a number where the texts are left out */
#ifdef WASH_NO_TEXTS
#define PUT_TEXT(at, what, number) wash_put_number(put(at, #what " "), number, 0U)
#else
#define PUT_TEXT(at, what, number) put(at, wash_##what##_text(number))
#endif

/* What a person may want to read, as a note in the log: scullion review passes over lines that begin with # */
static void log_note(void)
{
    wash_view_t view;
    char line[256];
    char *at = line;
    wash_view(&wash, &view);
    at = put(put(put(at, "# "), view.name), ": ");
    at = PUT_TEXT(at, state, view.state);
    if (view.round > 0U) {
        at = wash_put_number(put(at, ", round "), view.round, 0U);
        at = wash_put_number(put(at, ", rounds left "), view.rounds_left, 0U);
    }
    if (view.left_s > 0UL) {
        at = put(wash_put_number(put(at, ", "), (int32_t)view.left_s, 0U), " s left");
    }
    if (view.bath_valid) {
        at = put(wash_put_number(put(at, ", "), view.bath_dc, 1U), " C");
    }
    if (view.lid_open) {
        at = put(at, ", LID OPEN");
    }
    if (view.held) {
        at = put(at, ", was held: not proven");
    }
    if (view.hot && view.state == WASH_STATE_COOL) {
        at = put(at, ", HOT: waits ");
        if (view.bath_valid && !wash.doubted) {
            at = put(at, "till it reads cool; do not press again");
        } else {
            at = wash_put_number(at, (int32_t)(wash.warm_ms / 60000UL + 1UL), 0U);
            at = put(at, " min; do not press again, or look first: hold 10 s once tank and ware are seen cool");
        }
    } else if (view.hot) {
        at = put(at, ", HOT: not drained");
    }
    if (view.error != WASH_OK) {
        at = PUT_TEXT(put(at, ", STOPPED: "), error, view.error);
    }
    *at = '\0';
    board_log(line);
}

int main(void)
{
    static const uint8_t relays[] = { PIN_INLET, PIN_ELEMENT, PIN_WASH_PUMP, PIN_DRAIN_PUMP };
    static const uint8_t inputs[] = { PIN_BUTTON, PIN_SKIP, PIN_FLOAT, PIN_LEVEL, PIN_OVERFLOW, PIN_LID };
    static wash_hooks_t hooks;
    const struct wash_programme *programme;
    /* As if down and told of: one that is held, stuck or wet at power-up starts nothing until it was let go */
    button_t button = { PIN_BUTTON, true, LOOKED, 0UL, 0UL }, skip = { PIN_SKIP, true, LOOKED, 0UL, 0UL };
    uint32_t step_ms, logged_ms;
    char line[WASH_LOG_CHARS];
    uint8_t n;
    /* First of all the relays, each at its safe level */
    for (n = 0U; n < sizeof relays; n++) {
        board_output(relays[n], !RELAY_ON);
    }
    board_watchdog_begin(WATCHDOG_MS);
    for (n = 0U; n < sizeof inputs; n++) {
        if (inputs[n] != NONE) {
            board_input(inputs[n]);
        }
    }
    hooks.clock_ms = clock_ms;
    hooks.outputs = outputs;
    hooks.bath = PIN_THERMISTOR != NONE ? bath : NULL;
    hooks.full = PIN_LEVEL != NONE ? full : NULL;
    hooks.covered = PIN_FLOAT != NONE ? covered : NULL;
    hooks.overflow = PIN_OVERFLOW != NONE ? overflow : NULL;
    hooks.lid_shut = PIN_LID != NONE ? lid_shut : NULL;
    hooks.no_lid_switch = PIN_LID == NONE;
    hooks.was_running = was_running;
    hooks.set_running = set_running;
    hooks.was_cool = was_cool;
    hooks.set_cool = set_cool;
    mend_kept();
    programme = wash_programme(board_kept(KEPT_NUMBER));
    if (programme == NULL) {
        board_log("board_kept() does not give back what board_keep() was given: nothing can be started");
    }
    if (!wash_init(&wash, &hooks, programme) && wash.error == WASH_ERROR_HOOKS) {
        board_log("a hook that this programme needs is missing");
    }
    board_log(wash_log_head());
    step_ms = logged_ms = board_ms();
    for (;;) {
        const uint32_t now_ms = board_ms();
        if (now_ms - step_ms < LOOP_MS) {
            continue;
        }
        step_ms = now_ms;
        act(&button, &skip, now_ms);
        (void)wash_step(&wash);
        board_watchdog_feed(); /* only here: a clock that stops, stops the steps, and the watchdog switches off */
        if (now_ms - logged_ms >= LOG_MS) {
            logged_ms = now_ms;
            log_note();
        }
        if (wash_log(&wash_log_state, &wash, LOG_MS, line)) {
            board_log(line);
        }
    }
}
