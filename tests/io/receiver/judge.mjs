// Holds what receive.mjs wrote down against a frames.csv in levels of 0..255.
//   node judge.mjs RECEIVED FRAMES.csv|- UNIVERSES
// A light frame may be missed on a busy machine, but none may be wrong or out of
// order. Missing more than half of them fails, however busy the machine is.
import { readFileSync } from 'node:fs';

const [received, frames, universes] = process.argv.slice(2);
const lines = readFileSync(received, 'utf8').trim().split('\n').filter((l) => l !== 'ready');
const wrong = lines.filter((l) => l.startsWith('TROUBLE'));
const packets = lines.filter((l) => !l.startsWith('TROUBLE')).map((l) => l.split(' '))
    .map(([at, universe, sequence, options, priority, cid, name, hex]) =>
        ({ at: +at, universe: +universe, sequence: +sequence, options: +options, priority: +priority, cid, name, hex }));
const fail = (text) => { console.log(text); process.exitCode = 1; };
if (wrong.length) fail(wrong[0]);

for (const universe of universes.split(',').map(Number)) {
    const mine = packets.filter((p) => p.universe === universe);
    if (mine.length < 8) { fail(`universe ${universe}: only ${mine.length} packets`); continue; }
    mine.forEach((p, i) => {
        if (i && p.sequence !== (mine[i - 1].sequence + 1) % 256) fail(`universe ${universe}: ${mine[i - 1].sequence} is followed by ${p.sequence}`);
        if (p.cid !== mine[0].cid) fail('the identifier changes');
        if (p.hex.length !== 1024) fail('not 512 slots');
    });
    const last = mine.slice(-4), black = '0'.repeat(1024);
    if (last.map((p) => p.options).join() !== '0,64,64,64') fail(`universe ${universe} ends with options ${last.map((p) => p.options)}`);
    if (last.some((p) => p.hex !== black)) fail(`universe ${universe} does not end in black`);
    if (mine.slice(0, -3).some((p) => p.options)) fail('options before the end');
    const gaps = mine.slice(1).map((p, i) => p.at - mine[i].at);
    console.log(`universe ${universe}: ${mine.length} packets from ${mine[0].name}, longest gap ${(Math.max(...gaps) / 1000).toFixed(1)} ms`);
}

if (frames !== '-') {
    const rows = readFileSync(frames, 'utf8').trim().split(/\r?\n/).slice(1)
        .map((l) => l.split(',').slice(1).map((v) => (+v).toString(16).padStart(2, '0')).join('').padEnd(1024, '0'));
    let at = 0, matched = 0;
    const seen = packets.filter((p) => !p.options).map((p) => p.hex);
    for (const hex of seen) {
        let next = at;
        while (next < rows.length && rows[next] !== hex) next++;
        if (next === rows.length) {
            if (/^0*$/.test(hex)) continue; // dark before the show and after it
            fail('a packet holds no light frame of the file, or one out of order');
            break;
        }
        at = next;
        matched++;
    }
    const distinct = new Set(rows.filter((r) => !/^0*$/.test(r))), got = new Set(seen);
    const missed = [...distinct].filter((r) => !got.has(r)).length;
    console.log(`${matched} packets match, ${missed} of ${distinct.size} different light frames not seen`);
    if (missed > distinct.size / 2) fail('most light frames were never sent');
}
