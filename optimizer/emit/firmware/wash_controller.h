/*
 * A reference controller for the programmes in wash_timing.h: what your own program calls.
 *
 * SPDX-License-Identifier: MIT
 *
 * AN EXAMPLE TO START FROM, NOT A PRODUCT. Read the cautions in wash_controller.c before anything is wired.
 *
 * Use:
 *   1. Fill in a wash_hooks_t. With the outputs unplugged, see that each hook does what it says.
 *   2. wash_init() once with wash_programme(0), just before the main loop, with every output off by hardware
 *      until then. After it, a run does not begin before the element must have cooled: what went before is not
 *      known. Whether the tank was cool is, where the machine keeps it (hooks was_cool and set_cool).
 *   3. wash_step() from the main loop, ten times a second or more, always; wash_choose(), wash_start(), wash_stop()
 *      and wash_skip() from the buttons. None of them waits. Nothing here may be called from an interrupt.
 *      Say in WASH_STEPS_MAX_PER_S and WASH_CLOCK_TICK_MS how often the loop calls at most and how coarse the
 *      clock is: from them follows how soon a clock that stops is noticed. See the top of wash_controller.c.
 *   4. Serve the hardware watchdog from the same loop, so that a hung program switches everything off.
 */

#ifndef SCULLION_WASH_CONTROLLER_H
#define SCULLION_WASH_CONTROLLER_H

#include <stdbool.h>
#include <stdint.h>

/* The wash_timing.h that this controller takes has WASH_FORMAT 5 (one programme) or 6 (several), and no other */
#define WASH_CONTROLLER_FORMAT 5

#ifdef __cplusplus
extern "C" {
#endif

/* What is on: the sum of these */
enum { WASH_ON_INLET = 1, WASH_ON_ELEMENT = 2, WASH_ON_WASH_PUMP = 4, WASH_ON_DRAIN_PUMP = 8 };

/* Where the controller stands */
enum {
    WASH_STATE_IDLE,        /* every output off; wash_t.error says how the last run ended */
    WASH_STATE_COOL,        /* every output off until an element has cooled in its water, a motor has paused, and
                               the drain pipe stands what may be in the tank */
    WASH_STATE_START_DRAIN, /* drain pump, whatever the tank holds */
    WASH_STATE_GAP,         /* every output off between two phases */
    WASH_STATE_FILL,
    WASH_STATE_HEAT,
    WASH_STATE_SPRAY,
    WASH_STATE_SOAK,        /* every output off, the ware wet, before the last part of the spray */
    WASH_STATE_LAST_SPRAY,
    WASH_STATE_REST,
    WASH_STATE_TOP_UP,      /* inlet, by time: cold water, so that the drain pipe stands what is drained */
    WASH_STATE_MIX,         /* wash pump: stirs it in */
    WASH_STATE_DRAIN,
    WASH_STATE_STAND,       /* every output off while the load dries */
    WASH_STATE_SAFE_OFF,    /* something was wrong: every output off, the element cools in its water */
    WASH_STATE_SAFE_DRAIN,  /* something was wrong: drain pump, once; not where the bath may be too hot for it */
    WASH_STATE_HELD         /* the lid was opened: every output off until it is shut and wash_start() is called */
};

/* Why a run ended, or was refused */
enum {
    WASH_OK,                 /* it has not, or all went well */
    WASH_ERROR_STOPPED,      /* wash_stop() */
    WASH_ERROR_HOOKS,        /* one that is needed is missing, one of a pair, or both a lid hook and none */
    WASH_ERROR_POWER_CUT,    /* power came back; the water stays in, nothing moves until wash_start() */
    WASH_ERROR_LATE,         /* wash_step() came too late, or the clock jumped ahead or back */
    WASH_ERROR_NOT_FILLED,   /* the fill is over and the element not covered, or the level switch open */
    WASH_ERROR_NOT_DRAINED,  /* the drain is over and the level switch sees water: blocked, or inlet open */
    WASH_ERROR_UNCOVERED,    /* the float switch opened while the element was to be on */
    WASH_ERROR_OVERFLOW,     /* the overflow switch closed; see the top of wash_controller.c */
    WASH_ERROR_TOO_HOT,      /* it reads more than WASH_READ_MAX_DC, or WASH_DRAIN_STOP_DC at a drain; the water stays in */
    WASH_ERROR_SENSOR_LOST,  /* no reading, or one that no bath can have */
    WASH_ERROR_SENSOR_STUCK, /* element on and the reading does not move: sensor or element is dead */
    WASH_ERROR_FILL_TIME,    /* inlet open for longer than any fill */
    WASH_ERROR_ELEMENT_TIME, /* element on for longer than the round allows */
    WASH_ERROR_TOTAL_TIME,   /* the run takes longer than it can */
    WASH_ERROR_CLOCK_STOPPED, /* many steps and the clock shows the same; it drains if the clock goes on */
    WASH_ERROR_FLOAT_CLOSED, /* a drain is over and the float switch is closed: stuck or welded, or water left */
    WASH_ERROR_LID_OPEN,     /* held by the lid for longer than WASH_HELD_MAX_S; the water stays in */
    WASH_ERROR_PROGRAMME,    /* wash_init() was given no programme */
    WASH_ERROR_MEMORY        /* the memory still says that the tank is cool after it was told otherwise: no start */
};

/* What the controller needs of the machine. A hook must return at once and call nothing of this. */
typedef struct {
    /* Milliseconds from any start; runs over at 2^32 and at nothing less. Needed. */
    uint32_t (*clock_ms)(void *context);
    /* Switch the four outputs to `on`, a sum of WASH_ON_; the same value comes again at every step. Needed. */
    void (*outputs)(void *context, uint8_t on);
    /* Put the temperature of the bath [0.1 C] in *bath_dc and return true; false where there is no reading.
       Give it filtered: one spike ends a heating. Needed by a thermostat; else for its watchdogs, or NULL. */
    bool (*bath)(void *context, int16_t *bath_dc);
    /* The level switch that ends a fill is closed. Needed if WASH_FILL_BY_LEVEL is 1; else NULL. */
    bool (*full)(void *context);
    /* The float switch in series with the element is closed: water covers it. Read it from a contact of its
       own or through an isolating coupler, debounced: the element goes off at the first false. After every
       drain it must be false, or WASH_ERROR_FLOAT_CLOSED: a small reed in the element's own circuit welds
       shut, and nothing shows it until the element is dry. NULL: blind, look for yourself. */
    bool (*covered)(void *context);
    /* The overflow switch is closed. NULL where there is none. */
    bool (*overflow)(void *context);
    /* The lid is shut: a contact of its own in the lid switch that is wired into the supply of pumps and element,
       closed while shut, so that a broken wire counts as open. While it is open no output is on. Where none is
       read say so: NULL and no_lid_switch true; neither, or both, is WASH_ERROR_HOOKS. */
    bool (*lid_shut)(void *context);
    bool no_lid_switch;
    /* Put in so much detergent [0.1 g]; called once, as a spray begins: in a bath that is heated with the pump
       off powder cakes on bottom and element. NULL where a person does it: in the spray of the wash, not of the
       prerinse, never of a rinse (the header's cautions say which one, and when), in its first half minute, when
       the pump is heard, through a capped funnel above splash height; the lid stays shut. */
    void (*detergent)(void *context, uint16_t detergent_dg);
    /* A flag that outlives a power cut, to be read and set. NULL, both: after a cut it stays idle. */
    bool (*was_running)(void *context);
    void (*set_running)(void *context, bool running);
    /* A second flag in the same memory: true only if the tank is known to hold nothing too hot for the drain pipe.
       Whatever was not written as true (a new board, a spoilt byte, a memory that cannot be read) must read false,
       and what is written first must be kept first. Each flag is written twice a run at the most. NULL, both:
       after each power-up a machine that reads no bath waits. Needs the two hooks above. */
    bool (*was_cool)(void *context);
    void (*set_cool)(void *context, bool cool);
    /* Handed to every hook */
    void *context;
} wash_hooks_t;

/* A programme of wash_timing.h: a table in read-only memory, handed on by pointer */
struct wash_programme;

/* What a person may want to see */
typedef struct {
    const char *name;    /* of the programme */
    uint32_t left_s;     /* until the run is over, see wash_left_s() */
    uint8_t state;       /* WASH_STATE_, see wash_state_text() */
    uint8_t error;       /* why it stopped: WASH_ERROR_, see wash_error_text() */
    uint8_t round;       /* of the run, from 1; 0 outside one and while the load stands */
    uint8_t rounds_left; /* this one among them */
    bool bath_valid;     /* the temperature can be shown: it was read at the last step, in a run or not */
    int16_t bath_dc;     /* [0.1 C] */
    bool lid_open;       /* at the last step: nothing runs and nothing can be started */
    bool held;           /* the lid was opened in this run: its doses are not proven */
    bool hot;            /* nothing drains it in its turn, and it may be too hot for the drain pipe: it stays in */
} wash_view_t;

/* The controller; to be read from outside, not written. */
typedef struct {
    const wash_hooks_t *hooks;
    const struct wash_programme *programme;
    uint8_t state;        /* WASH_STATE_ */
    uint8_t next;         /* state after the gap */
    uint8_t round;        /* counts from 0 */
    uint8_t error;        /* WASH_OK or WASH_ERROR_ */
    uint8_t on;           /* outputs, a sum of WASH_ON_ */
    bool filled : 1;      /* the fill of this round has ended as it should */
    bool skips : 1;       /* wash_skip(): the element stays off for the rest of the round */
    bool calls_for_heat : 1; /* thermostat */
    bool lid_open : 1;    /* at the last step; false where no lid switch is read */
    bool held : 1;        /* the lid was opened in this run, or in the last one if it is idle */
    bool warmed : 1;      /* element or hot inlet was on, and no drain has taken that bath */
    bool doubted : 1;     /* the sensor stood still while the element was on, or was lost: not believed about this bath */
    bool kept_cool : 1;   /* what the memory holds of was_cool() */
    bool bath_valid : 1;  /* the reading of the last step can be true */
    int16_t bath_dc;      /* the last reading that could [0.1 C] */
    int16_t moved_dc;     /* reading when the sensor last moved [0.1 C] */
    uint16_t same_steps;  /* steps on which the clock has not moved */
    uint32_t clock_ms;    /* clock at the last step */
    uint32_t state_ms;    /* in this state */
    uint32_t total_ms;    /* in this run, or since it went on after the lid; without the wait before it */
    uint32_t fill_ms;     /* inlet open in this round */
    uint32_t drained_ms;  /* drain pump on since the inlet was last open in this run */
    uint32_t element_ms;  /* element on in this round */
    uint32_t still_ms;    /* element on without the sensor moving */
    uint32_t lost_ms;     /* without a valid reading */
    uint32_t full_ms;     /* level switch closed */
    uint32_t pause_ms;    /* until the element has cooled and the motors have paused */
    uint32_t warm_ms;     /* until the drain pipe stands the hottest bath, as nothing reads it */
} wash_t;

/* How many programmes wash_timing.h holds, and each by its number from 0; NULL where there is none */
uint8_t wash_programme_count(void);
const struct wash_programme *wash_programme(uint8_t number);

/* Get ready with a programme chosen; false where a hook is missing or it is no programme (wash_t.error). After a power cut in
   a run it stays off, see WASH_ERROR_POWER_CUT. A machine that is to begin again by itself has to keep the number
   of its programme as well. */
bool wash_init(wash_t *wash, const wash_hooks_t *hooks, const struct wash_programme *programme);

/* Take another programme. False, and nothing happens, if it is not idle or the pointer is no programme. */
bool wash_choose(wash_t *wash, const struct wash_programme *programme);

/* Begin a run: start drain, as soon as the drain pipe stands it, then round 1. In WASH_STATE_HELD: go on with a start drain and all of the round in which
   the lid was opened. False, and nothing happens, if it is neither idle nor held, the lid is open, or it lacks a
   hook; nor if the memory does not take that the tank may be hot from now on (WASH_ERROR_MEMORY). */
bool wash_start(wash_t *wash);

/* Do what is due now. Returns the state. */
uint8_t wash_step(wash_t *wash);

/* End a run: every output off, then drain once, or leave in what is too hot for the drain pipe. */
void wash_stop(wash_t *wash);

/* Somebody has looked, with a thermometer, never by hand: the tank is empty, or what is in it is cool enough for the
   drain pipe, AND the ware in it is no hotter than the file of the constants allows after a power cut: cold water is
   sprayed on it next. Open the lid away from your face. No gesture that somebody
   makes who only sees nothing move. What is left of WASH_DRAIN_WAIT_S is left out. False, and nothing happens, where a reading says otherwise, and but for
   WASH_STATE_IDLE, COOL and HELD. */
bool wash_tank_is_cool(wash_t *wash);

/* Leave out what is left of the round before its drain, and go on with the next. A bath that may be too hot for
   the drain pipe, or too hot to be known, keeps what cools it: then only the element stays off. False, and nothing
   happens, where there is nothing to leave out. Such a run washes and rinses as nobody proved. */
bool wash_skip(wash_t *wash);

/* Seconds until the run is over, or the safe state, and it is idle: as the table has it, the standing of the load
   among them [s]. A switch or a sensor may end a phase sooner; each phase may last a step longer, and a fill
   WASH_LEVEL_STEADY_MS. */
uint32_t wash_left_s(const wash_t *wash);

/* What a person may want to see, put into *view */
void wash_view(const wash_t *wash, wash_view_t *view);

/* A log for scullion review: CSV, whole numbers, no allocation. Set all of wash_log_t to 0 before the first line. */
typedef struct {
    uint32_t s;        /* time since the first line */
    uint32_t clock_ms; /* clock when that was last counted */
    uint32_t since_ms; /* since the last line */
    uint16_t ms;       /* after s */
    uint8_t state, on, round, error;
    bool begun;
} wash_log_t;

/* Room for a line with its end */
#define WASH_LOG_CHARS 64U

/* The first line of a log */
const char *wash_log_head(void);

/* Call it after every wash_step(). Puts a line into `line`, ended by 0, and says so: at the first call, every
   `every_ms`, and when state, round, outputs or error change. The bath is left out where it is not read.
   state and error are WASH_STATE_ and WASH_ERROR_ as numbers, round counts from 1, 0 outside a run. */
bool wash_log(wash_log_t *log, const wash_t *wash, uint32_t every_ms, char line[WASH_LOG_CHARS]);

/* Put a number into a line, so many of its digits after the point; returns the end, where no 0 is put */
char *wash_put_number(char *at, int32_t number, uint8_t after);

#ifndef WASH_NO_TEXTS
/* What WASH_STATE_ and WASH_ERROR_ mean, at most 17 letters; -DWASH_NO_TEXTS leaves these two out */
const char *wash_state_text(uint8_t state);
const char *wash_error_text(uint8_t error);
#endif

#ifdef __cplusplus
}
#endif

#endif /* SCULLION_WASH_CONTROLLER_H */
