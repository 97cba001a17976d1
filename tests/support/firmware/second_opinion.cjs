// Runs a board's program on avr8js and prints the edges of the LEDs' pin as [cycle, level].
//
//     node second_opinion.cjs FOLDER_OF_AVR8JS LIFE.json

const fs = require("fs");
const [folder, file] = process.argv.slice(2);
const avr = require(folder);
const life = JSON.parse(fs.readFileSync(file, "ascii"));

function program(hex) {
  const flash = new Uint8Array(0x8000).fill(0xff);
  for (const line of hex.split("\n")) {
    if (line[0] !== ":" || line.slice(7, 9) !== "00") continue;
    const length = parseInt(line.slice(1, 3), 16), at = parseInt(line.slice(3, 7), 16);
    for (let n = 0; n < length; n++) flash[at + n] = parseInt(line.substr(9 + 2 * n, 2), 16);
  }
  return new Uint16Array(flash.buffer);
}

const cpu = new avr.CPU(program(life.hex));
const memory = new avr.EEPROMMemoryBackend(1024);
life.eeprom.forEach((byte, n) => (memory.memory[n] = byte));
new avr.AVREEPROM(cpu, memory);
new avr.AVRTimer(cpu, avr.timer1Config);
const clock = new avr.AVRClock(cpu, 16e6);
new avr.AVRWatchdog(cpu, avr.watchdogConfig, clock);
const line = new avr.AVRUSART(cpu, avr.usart0Config, 16e6);
const pins = new avr.AVRIOPort(cpu, avr.portBConfig);

const edges = [];
let high = 0;
pins.addListener((value) => {
  if ((value & 1) === high) return;
  high = value & 1;
  edges.push([cpu.cycles, high]);
});

const bytes = [];
for (const [at, data] of life.sent) data.forEach((byte, n) => bytes.push([at + (n + 1) * 10 * life.bit, byte]));
let next = 0;
while (cpu.cycles < life.until) {
  avr.avrInstruction(cpu);
  cpu.tick();
  if (next < bytes.length && bytes[next][0] <= cpu.cycles && !line.rxBusy) line.writeByte(bytes[next++][1], true);
}
process.stdout.write(JSON.stringify(edges));
