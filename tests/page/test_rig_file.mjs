// The page's rig files and what it does to them, without a browser: whatever is done, the library takes it, and nothing
// that the library wrote is lost on the way.
//
//   node tests/page/test_rig_file.mjs CORE.wasm
import assert from 'node:assert/strict';
import { readdirSync, readFileSync } from 'node:fs';

const wasm = process.argv[2];
const source = ['words.js', 'core.js', 'rig/rig_file.js', 'rig/rig_edits.js'].map((name) => readFileSync(`src/page/${name}`, 'utf8')).join('\n');
const page = new Function(`"use strict";${source}; return { Core, RigFile, addChannel, removeChannel, withParent, withKind, withNumber, addCircuit,
  withCircuitName, withPlaces, withoutPlaces, parentsFor, branchesOf, channelsOn, freeNumber, isPlaced, kindOf };`)();
const { RigFile } = page;

// Numerical Recipes' 32-bit congruential generator.
let state = 1;
const below = (n) => {
  state = (Math.imul(state, 1664525) + 1013904223) >>> 0;
  return Math.floor((state / 2 ** 32) * n);
};
const one = (list) => list[below(list.length)];
const percent = () => below(1001) / 10;

// Something that somebody may do, as the page offers it.
function anything(rig) {
  const number = one(rig.numbers);
  const branch = page.kindOf(rig, number) === 'branch';
  const empty = rig.names('circuit').filter((name) => !page.channelsOn(rig, name).length);
  const acts = [
    () => (page.freeNumber(rig) ? page.addChannel(rig, 'branch', one([0, ...page.branchesOf(rig)]), number) : rig),
    () => (page.freeNumber(rig) ? page.addChannel(rig, 'flood', 0, number) : rig),
    () => (rig.numbers.length > 1 ? page.removeChannel(rig, number) : rig),
    () => (branch ? page.withParent(rig, number, one([0, ...page.parentsFor(rig, number)])) : rig),
    () => page.withKind(rig, number, branch ? 'flood' : 'branch'),
    () => {
      const to = 1 + below(512);
      return rig.has('channel', to) ? rig : page.withNumber(rig, number, to);
    },
    () => page.addCircuit(rig),
    () => page.withCircuitName(rig, one(rig.names('circuit')), `circuit ${below(1e6)} \u2028 <b>`),
    () => (empty.length ? rig.withoutSection('circuit', one(empty)) : rig),
    () => rig.with('channel', number, { circuit: one(rig.names('circuit')), watts: 1 + below(90), name: `name ${below(1e6)} [x] = y;z` }),
    () => page.withPlaces(rig, Object.fromEntries(rig.numbers.map((each) => [each, { x: percent(), y: percent() }]))),
    () => page.withoutPlaces(rig),
  ];
  return one(acts)();
}

let failed = 0;
function test(name, run) {
  const start = Date.now();
  try {
    run();
    console.log(`[       OK ] ${name} (${Date.now() - start} ms)`);
  } catch (problem) {
    failed = 1;
    console.log(`[  FAILED  ] ${name}\n${problem.stack}`);
  }
}

const core = await page.Core.open(readFileSync(wasm).toString('base64'));
const files = ['samples', 'tests/fuzz/corpus/rig'].flatMap((folder) => readdirSync(folder).filter((name) => name.endsWith('.rig')).map((name) => `${folder}/${name}`));

test('what the library writes of a rig is the same when it was taken apart', () => {
  let read = 0;
  for (const file of ['', ...files]) {
    try {
      core.rig(file && readFileSync(file, 'utf8'));
    } catch {
      continue; // it is there to be refused
    }
    const written = core.text('rig');
    assert.equal(RigFile.of(written).text, written, file);
    read++;
  }
  assert.ok(read >= 4, `${read} rigs`);
});

test('whatever is done to a rig, the library takes it and writes it as the page has it', () => {
  for (const file of ['', 'samples/mill-pond.rig', 'samples/three-bolts.rig', 'samples/backyard.rig']) {
    core.rig(file && readFileSync(file, 'utf8'));
    let rig = RigFile.of(core.text('rig'));
    for (let k = 0; k < 400; k++) {
      const next = anything(rig);
      try {
        core.rig(next.text);
      } catch (problem) {
        // Slots of the light network follow the numbers: that two fall on one is for the user to decide.
        if (/have the same slot|slots reach into/.test(problem.message)) continue;
        throw new Error(`${problem.message}\n${next.text}`);
      }
      const written = RigFile.of(core.text('rig'));
      // The same sections with the same keys, in the library's order.
      const plain = (of) => of.sections.map(({ word, name, keys }) => [word, name, Object.fromEntries(keys)]).sort((a, b) => (a[0] + a[1] < b[0] + b[1] ? -1 : 1));
      assert.deepEqual(plain(written), plain(next));
      rig = written;
    }
  }
});

process.exitCode = failed;
