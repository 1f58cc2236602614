/*
 * What wash_main.c needs of a board: a few functions, for you to write with the library of your microcontroller.
 *
 * SPDX-License-Identifier: MIT
 */

#ifndef SCULLION_WASH_BOARD_H
#define SCULLION_WASH_BOARD_H

#include <stdbool.h>
#include <stdint.h>

/* Make a pin an output that shows `high` from its first moment on: set the level first, then the direction */
void board_output(uint8_t pin, bool high);
/* Make a pin an input with a pull-up resistor: an open switch, or a broken wire, reads high */
void board_input(uint8_t pin);
void board_write(uint8_t pin, bool high);
bool board_read(uint8_t pin);
/* Counts of the converter, 0 to 1023; shift a finer one down to these */
uint16_t board_adc(uint8_t pin);
/* Milliseconds from any start; runs over at 2^32 and at nothing less */
uint32_t board_ms(void);
/* The watchdog in hardware: begin resets the board unless it is fed every so many milliseconds */
void board_watchdog_begin(uint16_t ms);
void board_watchdog_feed(void);
/* Send a line to the serial port, or drop it; never wait */
void board_log(const char *line);
/* Three bytes that outlive a power cut (EEPROM, or memory with a battery), at the places 0 to 2: 255 in a new one.
   board_keep() returns once the byte is kept, and board_kept() reads that memory, not a copy: try it, pull the plug in
   a warm wash, and see that the next start waits */
uint8_t board_kept(uint8_t place);
void board_keep(uint8_t place, uint8_t value);

#endif /* SCULLION_WASH_BOARD_H */
