// How soon the lamps are dark after a live show was ended from outside: plays a
// steady light, ends it in each way, and takes the time until its receiver has
// black and the last of the three terminated packets (ANSI E1.31-2018: options
// in octet 112, slots from octet 126).
//   node dark.mjs PROGRAM FRAMES.csv SOUND.flac JACK|- RUNS
import { createSocket } from 'node:dgram';
import { spawn } from 'node:child_process';

const [program, frames, sound, jack, runs] = process.argv.slice(2);
const now = () => Number(process.hrtime.bigint()) / 1e6;
const sleep = (ms) => new Promise((done) => setTimeout(done, ms));
const socket = createSocket('udp4');
let packets = [];
socket.on('message', (m) => packets.push({ at: now(), ended: (m[112] & 0x40) !== 0, lit: m.subarray(126).some((b) => b) }));
await new Promise((done) => socket.bind(5568, '127.0.0.1', done));

async function startSound() {
    const server = spawn(jack, ['--no-realtime', '-d', 'dummy', '-r', '48000', '-p', '1024'], { stdio: 'ignore' });
    await sleep(700);
    return server;
}

// One show; `end` ends it and may return what has to be done after the measurement.
async function once(withSound, end) {
    const server = withSound ? await startSound() : null;
    const player = spawn(program, ['play', frames, '--to', '127.0.0.1', '--quiet', ...withSound ? ['--sound', sound] : ['--no-sound']],
        { stdio: 'ignore' });
    packets = [];
    for (let i = 0; i < 300 && !packets.some((p) => p.lit); i++) await sleep(10);
    await sleep(800 + Math.random() * 200); // so that it knows its sound card
    packets = [];
    const from = now();
    const after = end(player, server);
    await sleep(700);
    const got = packets.filter((p) => p.at > from), lastLit = got.map((p) => p.lit && !p.ended).lastIndexOf(true);
    const black = got.slice(lastLit + 1).find((p) => !p.lit), ended = got.filter((p) => p.ended);
    if (after) after();
    player.kill('SIGKILL');
    if (server) server.kill('SIGKILL');
    await sleep(50);
    return { black: black ? black.at - from : Infinity, ended: ended.length === 3 ? ended[2].at - from : Infinity };
}

const byPlayer = (signal) => [signal, false, (player) => { player.kill(signal); }];
const ways = [
    ...['SIGINT', 'SIGTERM', 'SIGHUP', 'SIGQUIT', 'SIGSEGV', 'SIGABRT', 'SIGBUS', 'SIGKILL', 'SIGSTOP'].map(byPlayer),
    ...jack === '-' ? [] : [
        ['sound server killed', true, (player, server) => { server.kill('SIGKILL'); }],
        ['sound server stopped', true, (player, server) => { server.kill('SIGSTOP'); }],
    ],
];
for (const [name, withSound, end] of ways) {
    const all = [];
    for (let i = 0; i < Number(runs); i++) all.push(await once(withSound, end));
    const column = (key) => all.map((r) => r[key]).sort((a, b) => a - b);
    const black = column('black'), ended = column('ended'), ms = (v) => v.toFixed(1).padStart(8);
    console.log(`${name.padEnd(22)} ${runs} runs: black after${ms(black[black.length >> 1])} ms in the middle,${ms(black.at(-1))} at worst;`
        + ` ended after${ms(ended.at(-1))} at worst`);
}
socket.close();
