// Reads a load cell through a 24-bit amplifier for bridges with a two-wire clocked
// output, and sends a line "milliseconds,counts" for each reading: 10 or 80 a second,
// as the amplifier's rate pin says. docs/wiring.md says what goes where.
//
// How the amplifier speaks (from memory, unconfirmed: compare with the data sheet of
// yours): its data line is high while it measures, and goes low when a reading is
// ready. 24 pulses on the clock line bring out 24 bits, the highest first, in two's
// complement; a 25th ends the reading and keeps the input and gain (first input,
// gain 128). A clock line that stays high for more than 60 µs switches it off.

const int DATA_PIN = 3;
const int CLOCK_PIN = 2;
const unsigned long SPEED = 115200;     // baud
const unsigned long LONGEST_WAIT = 1000; // ms without a reading before that is said

static unsigned long last; // when the last line was sent, ms

void setup() {
  pinMode(CLOCK_PIN, OUTPUT);
  digitalWrite(CLOCK_PIN, LOW);
  pinMode(DATA_PIN, INPUT);
  Serial.begin(SPEED);
  Serial.println("# time_ms,counts");
  last = millis();
}

// One reading, -8388608 to 8388607. Nothing may hold the clock line high meanwhile.
static long readBridge() {
  unsigned long bits = 0;
  noInterrupts();
  for (int i = 0; i < 25; i++) {
    digitalWrite(CLOCK_PIN, HIGH);
    delayMicroseconds(1);
    if (i < 24) {
      bits = (bits << 1) | (digitalRead(DATA_PIN) == HIGH ? 1UL : 0UL);
    }
    digitalWrite(CLOCK_PIN, LOW);
    delayMicroseconds(1);
  }
  interrupts();
  long counts = (long)bits;
  return counts < 0x800000L ? counts : counts - 0x1000000L;
}

void loop() {
  unsigned long now = millis();
  if (digitalRead(DATA_PIN) == HIGH) {
    if (now - last > LONGEST_WAIT) {
      Serial.println("# the amplifier gives no reading: look at its supply and its two wires");
      last = now;
    }
    return;
  }
  char line[32];
  snprintf(line, sizeof line, "%lu,%ld", now, readBridge());
  Serial.println(line);
  last = now;
}
