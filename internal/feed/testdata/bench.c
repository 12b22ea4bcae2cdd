// A bench for docs/bridge/bridge.ino: the board's functions, and an amplifier that
// speaks as the sketch says. It gives the readings below at 80 a second, then none.
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>

enum { LOW, HIGH, INPUT, OUTPUT };

static const long readings[] = {0, 1, -1, 8388607, -8388608, 84210, -84210, 5592405, -5592406};
static const int count = sizeof readings / sizeof *readings;

static double clock_us = 4294960000.0 * 1000; // near the end of a 32-bit count of ms
static double ready_us;                       // when the next reading is ready
static int reading = 0, bit = -1, level = LOW;
static bool guarded = false;

static unsigned long millis(void) { return (unsigned long)((unsigned long long)(clock_us / 1000) & 0xffffffffULL); }
static void delayMicroseconds(int us) { clock_us += us; }
static void noInterrupts(void) { guarded = true; }
static void interrupts(void) { guarded = false; }
static void pinMode(int pin, int mode) {
  if (!(pin == 2 && mode == OUTPUT) && !(pin == 3 && mode == INPUT)) exit(2);
}

static void digitalWrite(int pin, int value) {
  if (pin != 2) exit(3);
  if (value == HIGH && level == LOW) {
    if (bit < 0 && !guarded && reading > 0) exit(4);
    bit++;
  }
  if (value == LOW && level == HIGH && bit == 24) { // the 25th pulse ends
    bit = -1;
    reading++;
    ready_us += 12500;
  }
  level = value;
  clock_us += 0.5;
}

static int digitalRead(int pin) {
  if (pin != 3) exit(5);
  clock_us += 0.5;
  if (bit >= 0 && bit < 24) return readings[reading] >> (23 - bit) & 1;
  return bit < 0 && reading < count && clock_us >= ready_us ? LOW : HIGH;
}

static void begin(unsigned long speed) { if (speed != 115200) exit(6); }
static void println(const char *s) { printf("%s\r\n", s); }
static struct { void (*begin)(unsigned long); void (*println)(const char *); } Serial = {begin, println};

static void setup();
static void loop();
static long readBridge();

#include SKETCH

int main(void) {
  ready_us = clock_us + 12500;
  setup();
  for (double until = clock_us + 2.5e6; clock_us < until; clock_us += 10) loop();
}
