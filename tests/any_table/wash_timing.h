/* A header whose every number is a variable, so that one program can try the controller on any tables. */

#ifndef SCULLION_WASH_TIMING_H
#define SCULLION_WASH_TIMING_H

#include <stdint.h>

#define WASH_FORMAT 6U
/* Of the machine; WASH_DRAIN_WAIT_S, WASH_DRAIN_STOP_DC and WASH_FILL_IS_COLD are the compiler's options */
#define WASH_DRAIN_MAX_DC 400U
#define WASH_SENSOR_MOVES_S 600U

enum { WASH_KIND_PRERINSE = 0, WASH_KIND_WASH = 1, WASH_KIND_RINSE = 2, WASH_KIND_STEAM = 3 };
enum { ANY_ROUNDS = 12, ANY_PROGRAMMES = 4 };

typedef struct {
    uint8_t kind;
    uint16_t fill_s, heat_s, spray_s, spray_element_s, setpoint_dc, soak_s, rest_s, top_up_s, mix_s,
        drain_s, detergent_dg;
} wash_round_t;

struct wash_programme {
    const char *name;
    const wash_round_t *row;
    uint8_t bench_run, rounds;
    uint16_t start_drain_s, gap_s, after_soak_s, stand_s, lid_open_after_s, hysteresis_dk, bath_max_dc;
    uint16_t fill_max_s, drain_min_s, element_max_s;
    uint32_t total_max_s;
    uint8_t restart_after_cut;
};

/* What all programmes share */
typedef struct {
    uint8_t programmes, by_level, thermostat;
    uint16_t element_rest_s;
} any_shared_t;

extern any_shared_t any_shared;
extern struct wash_programme any_programme[ANY_PROGRAMMES];
extern wash_round_t any_row[ANY_PROGRAMMES][ANY_ROUNDS];

#define WASH_PROGRAMMES any_shared.programmes
#define WASH_FILL_BY_LEVEL any_shared.by_level
#define WASH_HAS_THERMOSTAT any_shared.thermostat
#define WASH_ELEMENT_REST_S any_shared.element_rest_s
#define wash_programmes any_programme

#endif /* SCULLION_WASH_TIMING_H */
