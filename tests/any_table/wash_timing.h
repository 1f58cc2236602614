/* A header whose every number is a variable, so that one program can try the controller on any table. */

#ifndef SCULLION_WASH_TIMING_H
#define SCULLION_WASH_TIMING_H

#include <stdint.h>

enum { WASH_KIND_PRERINSE = 0, WASH_KIND_WASH = 1, WASH_KIND_RINSE = 2, WASH_KIND_STEAM = 3 };
enum { ANY_ROUNDS = 12 };

typedef struct {
    uint8_t kind;
    uint16_t fill_s, heat_s, spray_s, spray_element_s, setpoint_dc, soak_s, rest_s, top_up_s, mix_s,
        drain_s, detergent_dg;
} wash_round_t;

typedef struct {
    uint8_t rounds, by_level, thermostat, restart;
    uint16_t start_drain_s, gap_s, after_soak_s, stand_s, hysteresis_dk, bath_max_dc;
    uint16_t fill_max_s, drain_min_s, element_max_s, element_rest_s;
    wash_round_t row[ANY_ROUNDS];
} any_table_t;

extern any_table_t any;
extern uint32_t any_total_max_s; /* by itself: the preprocessor looks at it */

#define WASH_BENCH_RUN 0U
#define WASH_ROUNDS any.rounds
#define WASH_START_DRAIN_S any.start_drain_s
#define WASH_GAP_S any.gap_s
#define WASH_AFTER_SOAK_S any.after_soak_s
#define WASH_STAND_S any.stand_s
#define WASH_FILL_BY_LEVEL any.by_level
#define WASH_HAS_THERMOSTAT any.thermostat
#define WASH_HYSTERESIS_DK any.hysteresis_dk
#define WASH_BATH_MAX_DC any.bath_max_dc
#define WASH_RESTART_AFTER_CUT any.restart
#define WASH_FILL_MAX_S any.fill_max_s
#define WASH_DRAIN_MIN_S any.drain_min_s
#define WASH_ELEMENT_MAX_S any.element_max_s
#define WASH_TOTAL_MAX_S any_total_max_s
#define WASH_ELEMENT_REST_S any.element_rest_s

static inline const wash_round_t *wash_round(uint8_t number) { return &any.row[number]; }

#endif /* SCULLION_WASH_TIMING_H */
