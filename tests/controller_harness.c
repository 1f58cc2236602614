/*
 * Many copies of the reference controller in lock step, driven over standard input and output.
 *
 * Each argument is one copy: a number, the sum of the hooks it has (H_). Then, at every step, in the byte
 * order of the host: in comes the clock, uint32_t, and an in_t a copy; out goes an out_t a copy.
 * WASH_LOG in the environment names a file for the log of the first copy, a line a second and at each change.
 * A copy whose clock is wrong gets `skew_ms` on top, and it may make `more` steps at the same clock.
 */

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "wash_controller.h"

enum {
    H_BATH = 1,
    H_FULL = 2,
    H_COVERED = 4,
    H_OVERFLOW = 8,
    H_FLAG = 16,
    H_DETERGENT = 32,
    H_HALF_FLAG = 64,
    H_LID = 128,
    H_COOL = 512, /* keeps whether the tank is cool */
    H_LID_UNSAID = 256 /* neither a lid switch nor that there is none, or both */
};
enum {
    I_BATH = 1,
    I_FULL = 2,
    I_COVERED = 4,
    I_OVERFLOW = 8,
    I_START = 16,
    I_STOP = 32,
    I_POWER = 64,
    I_SKIP = 128 /* wash_step() does not come this time */
};
enum {
    A_SKIP_ROUND = 1,
    A_LID_OPEN = 2,
    A_TANK_IS_COOL = 4,
    A_WRITE_LOST = 8, /* at power-up: the last change of what is kept is undone */
    A_SPOILT = 16,    /* at power-up: of the tank nothing can be read */
    A_STICKS = 32     /* what is written is not kept */
};
/* What the second reading of a step says otherwise than the first */
enum { T_BATH_APART = 1, T_OPEN = 2, T_OVERFLOW = 4, T_LID = 8 };
enum { MOST = 2048 };

typedef struct {
    int16_t bath_dc;
    uint8_t flags; /* I_ */
    uint8_t asks; /* A_ */
    uint16_t more;
    uint8_t choose; /* number of a programme, from 1; 0: none */
    uint8_t twice;  /* T_ */
    uint32_t skew_ms;
} in_t;

typedef struct {
    uint8_t on;
    uint8_t state;
    uint8_t round;
    uint8_t error;
    uint16_t detergent_dg;
    uint8_t running; /* the flag that outlives a power cut */
    uint8_t answer;  /* of wash_init() and wash_start(), 2 where neither was called */
    uint8_t doses;   /* calls for detergent */
    uint8_t asked;   /* of wash_choose() and wash_skip(), 2 where neither was called */
    int16_t seen_dc; /* what a person sees of the bath, -32768 where nothing */
    uint32_t left_s; /* what a person sees of the time */
    uint8_t seen_round, rounds_left, seen_state, seen_error;
    uint8_t seen_lid; /* 1: open, 2: it was opened in this run, 4: what is in the tank is too hot to be drained */
    uint8_t cool; /* the other flag that outlives a power cut */
    uint8_t spare[2];
} out_t;

typedef struct {
    wash_t wash;
    wash_hooks_t hooks;
    in_t in;
    out_t out;
    bool powered;
    uint32_t reads;
    uint8_t before[2]; /* both flags, before the last write that changed one */
} copy_t;

static uint32_t now_ms;
static copy_t copies[MOST];
static FILE *log_file;
static wash_log_t log_state;

static uint32_t clock_ms(void *context)
{
    return now_ms + ((copy_t *)context)->in.skew_ms;
}

static void outputs(void *context, uint8_t on) { ((copy_t *)context)->out.on = on; }

/* Whether this is the second of two readings, and it is told to differ */
static bool differs(copy_t *copy, uint8_t how) { return (copy->reads++ & 1U) != 0 && (copy->in.twice & how) != 0; }

static bool bath(void *context, int16_t *bath_dc)
{
    copy_t *copy = (copy_t *)context;
    *bath_dc = (int16_t)(copy->in.bath_dc + (differs(copy, T_BATH_APART) ? 21 : 0));
    return (copy->in.flags & I_BATH) != 0;
}

static bool full(void *context)
{
    copy_t *copy = (copy_t *)context;
    return !differs(copy, T_OPEN) && (copy->in.flags & I_FULL) != 0;
}

static bool covered(void *context)
{
    copy_t *copy = (copy_t *)context;
    return !differs(copy, T_OPEN) && (copy->in.flags & I_COVERED) != 0;
}

static bool overflow(void *context)
{
    copy_t *copy = (copy_t *)context;
    return differs(copy, T_OVERFLOW) || (copy->in.flags & I_OVERFLOW) != 0;
}

static bool lid_shut(void *context)
{
    copy_t *copy = (copy_t *)context;
    return !differs(copy, T_LID) && (copy->in.asks & A_LID_OPEN) == 0;
}

static void detergent(void *context, uint16_t detergent_dg)
{
    ((copy_t *)context)->out.detergent_dg = detergent_dg;
    ((copy_t *)context)->out.doses++;
}

static bool was_running(void *context) { return ((copy_t *)context)->out.running != 0; }

static void keep(copy_t *copy, uint8_t *flag, bool value)
{
    if (*flag != value && (copy->in.asks & A_STICKS) == 0) {
        copy->before[0] = copy->out.running;
        copy->before[1] = copy->out.cool;
        *flag = value;
    }
}

static void set_running(void *context, bool running)
{
    keep((copy_t *)context, &((copy_t *)context)->out.running, running);
}

static bool was_cool(void *context) { return ((copy_t *)context)->out.cool != 0; }

static void set_cool(void *context, bool cool) { keep((copy_t *)context, &((copy_t *)context)->out.cool, cool); }

static void wire(copy_t *copy, int has)
{
    copy->hooks.clock_ms = clock_ms;
    copy->hooks.outputs = outputs;
    copy->hooks.bath = (has & H_BATH) != 0 ? bath : NULL;
    copy->hooks.full = (has & H_FULL) != 0 ? full : NULL;
    copy->hooks.covered = (has & H_COVERED) != 0 ? covered : NULL;
    copy->hooks.overflow = (has & H_OVERFLOW) != 0 ? overflow : NULL;
    copy->hooks.detergent = (has & H_DETERGENT) != 0 ? detergent : NULL;
    copy->hooks.was_running = (has & (H_FLAG | H_HALF_FLAG)) != 0 ? was_running : NULL;
    copy->hooks.set_running = (has & H_FLAG) != 0 ? set_running : NULL;
    copy->hooks.was_cool = (has & H_COOL) != 0 ? was_cool : NULL;
    copy->hooks.set_cool = (has & H_COOL) != 0 ? set_cool : NULL;
    copy->hooks.lid_shut = (has & H_LID) != 0 ? lid_shut : NULL;
    copy->hooks.no_lid_switch = ((has & H_LID) == 0) != ((has & H_LID_UNSAID) != 0);
    copy->hooks.context = copy;
}

static void see(copy_t *copy, const wash_view_t *view)
{
    copy->out.left_s = view->left_s;
    copy->out.seen_dc = view->bath_valid ? view->bath_dc : INT16_MIN;
    copy->out.seen_round = view->round;
    copy->out.rounds_left = view->rounds_left;
    copy->out.seen_state = view->state;
    copy->out.seen_error = view->error;
    copy->out.seen_lid = (uint8_t)(view->lid_open + 2 * view->held + 4 * view->hot);
}

static void step(copy_t *copy)
{
    const uint8_t flags = copy->in.flags;
    uint32_t steps;
    wash_view_t view;
    copy->out.answer = 2;
    copy->out.asked = 2;
    copy->reads = 0;
    copy->out.detergent_dg = 0;
    copy->out.doses = 0;
    if ((flags & I_POWER) == 0) {
        copy->powered = false;
        copy->out.on = 0;
        memset(&view, 0, sizeof view);
        see(copy, &view);
        return;
    }
    if (!copy->powered) {
        copy->powered = true;
        if ((copy->in.asks & A_WRITE_LOST) != 0) {
            copy->out.running = copy->before[0];
            copy->out.cool = copy->before[1];
        }
        if ((copy->in.asks & A_SPOILT) != 0) {
            copy->out.cool = false;
        }
        copy->before[0] = copy->out.running;
        copy->before[1] = copy->out.cool;
        memset(&copy->wash, 0xA5, sizeof copy->wash); /* what memory holds after power-up */
        copy->out.answer = wash_init(&copy->wash, &copy->hooks, wash_programme(0));
    }
    if (copy->in.choose > 0) {
        copy->out.asked = wash_choose(&copy->wash, wash_programme((uint8_t)(copy->in.choose - 1)));
    }
    if ((copy->in.asks & A_SKIP_ROUND) != 0) {
        copy->out.asked = wash_skip(&copy->wash);
    }
    if ((copy->in.asks & A_TANK_IS_COOL) != 0) {
        copy->out.asked = wash_tank_is_cool(&copy->wash);
    }
    if ((flags & I_START) != 0) {
        copy->out.answer = wash_start(&copy->wash);
    }
    if ((flags & I_STOP) != 0) {
        wash_stop(&copy->wash);
    }
    if ((flags & I_SKIP) == 0) {
        for (steps = 0; steps < 1UL + copy->in.more; steps++) {
            (void)wash_step(&copy->wash);
        }
    }
    if (log_file != NULL && copy == copies) {
        char line[WASH_LOG_CHARS];
        if (wash_log(&log_state, &copy->wash, 1000, line)) {
            fprintf(log_file, "%s\n", line);
        }
    }
    copy->out.state = copy->wash.state;
    copy->out.round = copy->wash.round;
    copy->out.error = copy->wash.error;
    wash_view(&copy->wash, &view);
    see(copy, &view);
}

int main(int count, char **words)
{
    const int number = count - 1;
    int i;
    if (number < 1 || number > MOST) {
        return 2;
    }
    for (i = 0; i < number; i++) {
        wire(&copies[i], atoi(words[i + 1]));
    }
    if (getenv("WASH_LOG") != NULL) {
        log_file = fopen(getenv("WASH_LOG"), "w");
        fprintf(log_file, "%s\n", wash_log_head());
    }
    while (fread(&now_ms, sizeof now_ms, 1, stdin) == 1) {
        for (i = 0; i < number; i++) {
            if (fread(&copies[i].in, sizeof copies[i].in, 1, stdin) != 1) {
                return 3;
            }
            step(&copies[i]);
            if (fwrite(&copies[i].out, sizeof copies[i].out, 1, stdout) != 1) {
                return 4;
            }
        }
        if (fflush(stdout) != 0) {
            return 5;
        }
    }
    return 0;
}
