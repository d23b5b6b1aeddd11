// The page in Firefox, opened from disk: the workbench opens, gives the program's bytes, plays, and asks for nothing.
//
//   node tests/page/test_firefox.mjs PROGRAM FOLDER FIREFOX
import assert from 'node:assert/strict';
import { spawnSync } from 'node:child_process';
import { mkdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import path from 'node:path';
import { pathToFileURL } from 'node:url';
import { Firefox } from './firefox.mjs';
import { openRig, rigEdits } from './rig_edits.mjs';
import { asProgramWrites, assertSameShow } from './same.mjs';

const [program, folder] = process.argv.slice(2, 4).map((name) => path.resolve(name));
const work = path.join(folder, 'firefox');
mkdirSync(work, { recursive: true });
mkdirSync(path.join(folder, 'shots'), { recursive: true });
const out = path.join(work, 'out');
rmSync(out, { recursive: true, force: true });
let failed = 0;
let firefox;

async function test(name, run) {
  const start = Date.now();
  try {
    await run();
    console.log(`[       OK ] Firefox: ${name} (${Date.now() - start} ms)`);
  } catch (problem) {
    failed = 1;
    console.log(`[  FAILED  ] Firefox: ${name}\n${problem.stack}`);
  }
}

const fileOf = async (what) => Buffer.from(await firefox.run(`return (async () => {
    let text = "";
    for (const byte of await window.thundercue.file("${what}")) text += String.fromCharCode(byte);
    return btoa(text);
  })();`), 'base64');

try {
  const cue = (...more) => {
    const done = spawnSync(program, ['cue', 'samples/mill-pond.flac', '--out', out, '--force', '--quiet', ...more], { encoding: 'utf8' });
    assert.ok(done.status <= 1, done.stderr);
  };
  cue('--rig', 'samples/mill-pond.rig');
  const page = path.join(out, 'mill-pond.preview.html');
  firefox = await Firefox.start(process.argv[4] || 'firefox-esr', work, 20000 + (process.pid % 20000));
  await firefox.open(pathToFileURL(page).href);
  await test('the workbench opens and gives the bytes of the program', async () => {
    await firefox.wait('window.thundercue && window.thundercue.state().bench');
    for (const what of ['events', 'frames', 'ramps'])
      assert.ok((await fileOf(what)).equals(readFileSync(path.join(out, `mill-pond.${what}.csv`))), `${what}.csv differs`);
  });
  await test('a change is cued anew as the program would, and undone', async () => {
    const before = await fileOf('frames');
    await firefox.run(`const slider = document.getElementById("setting-flood-share");
      slider.value = "0.4";
      slider.dispatchEvent(new Event("input"));
      document.dispatchEvent(new KeyboardEvent("keydown", { key: "n", bubbles: true }));
      document.dispatchEvent(new KeyboardEvent("keydown", { key: "Delete", bubbles: true }));`);
    for (const what of ['events', 'settings']) writeFileSync(path.join(work, what), await fileOf(what));
    const other = path.join(work, 'other');
    rmSync(other, { recursive: true, force: true });
    const done = spawnSync(program, ['cue', 'samples/mill-pond.flac', '--out', other, '--quiet', '--no-preview', '--rig', 'samples/mill-pond.rig',
      '--events', path.join(work, 'events'), '--settings', path.join(work, 'settings')], { encoding: 'utf8' });
    assert.ok(done.status <= 1, done.stderr);
    for (const what of ['events', 'frames', 'ramps'])
      assert.ok((await fileOf(what)).equals(readFileSync(path.join(other, `mill-pond.${what}.csv`))), `${what}.csv differs`);
    await firefox.run('document.getElementById("undo").click(); document.getElementById("undo").click();');
    assert.ok((await fileOf('frames')).equals(before));
    console.log(`# cueing 33 s of storm anew took ${(await firefox.run('return window.thundercue.tookMs();')).toFixed(1)} ms in Firefox`);
  });
  await test('a crack dragged in the lanes is the crack moved by its field, and Escape puts it back', async () => {
    const before = await fileOf('frames');
    const point = (k) => firefox.run(`const lane = document.querySelector('[data-lane="events"] canvas');
      lane.scrollIntoView({ block: "center" });
      const box = lane.getBoundingClientRect();
      const { view } = window.thundercue.state();
      const crack = window.thundercue.events().filter(({ kind }) => kind === "crack")[${k}];
      return [box.x + ((crack.start_s - view.from) / (view.to - view.from)) * box.width, box.y + 20];`);
    const [x, y] = await point(2);
    await firefox.drag([x, y], [x + 50, y + 3]);
    const dragged = [await fileOf('events'), await fileOf('frames')];
    assert.ok(!dragged[1].equals(before));
    const at = await firefox.run('return document.getElementById("hand-at").value;');
    await firefox.run('document.getElementById("undo").click();');
    assert.ok((await fileOf('frames')).equals(before));
    await firefox.run(`const field = document.getElementById("hand-at");
      field.value = "${at}";
      field.dispatchEvent(new Event("change"));`);
    assert.ok(dragged[0].equals(await fileOf('events')) && dragged[1].equals(await fileOf('frames')));
    await firefox.run('document.getElementById("undo").click();');
    await firefox.dragAndPress(await point(2), [x + 50, y], 'Escape');
    assert.ok((await fileOf('frames')).equals(before));
    assert.ok(await firefox.run('return document.getElementById("undo").disabled;'));
  });
  await test('the rig changed, dragged and moved by key gives the bytes of the program, and all is undone', async () => {
    const before = await fileOf('frames');
    await openRig(firefox);
    for (const [step, act, change] of rigEdits(firefox)) {
      const then = asProgramWrites(program, work, (await fileOf('rig')).toString());
      await act();
      const now = (await fileOf('rig')).toString();
      assert.notEqual(now, then, `${step} changed nothing`);
      assert.equal(asProgramWrites(program, work, now), asProgramWrites(program, work, change ? change(then) : now), step);
      for (const comment of readFileSync('samples/mill-pond.rig', 'utf8').match(/^;.*$/gm)) assert.ok(now.includes(`${comment}\n`), `${step}: '${comment}' is gone`);
    }
    await assertSameShow(program, work, 'samples/mill-pond.flac', fileOf, 'all changes of the rig');
    await firefox.run('for (let k = 0; k < 100 && !document.getElementById("undo").disabled; k++) document.getElementById("undo").click();');
    assert.ok((await fileOf('rig')).equals(readFileSync('samples/mill-pond.rig')));
    assert.ok((await fileOf('frames')).equals(before));
    await firefox.run('document.getElementById("rig-bench").open = false;');
  });
  await test('plays after the notice, with its sound', async () => {
    await firefox.run('document.getElementById("play").click(); document.getElementById("accept").click();');
    await firefox.wait('window.thundercue.state().time > 0.5');
    await firefox.run('window.thundercue.pause();');
  });
  await test('a saved page opens again and is the same page when saved from there', async () => {
    const saved = path.join(work, 'saved.preview.html');
    writeFileSync(saved, await fileOf('page'));
    await firefox.open(pathToFileURL(saved).href);
    await firefox.wait('window.thundercue && window.thundercue.state().bench');
    assert.ok((await fileOf('page')).equals(readFileSync(saved)));
  });
  await test('the page without a storm hears a recording as the program does', async () => {
    await firefox.open(pathToFileURL(path.resolve('build/thundercue.html')).href);
    await firefox.run(`const bytes = Uint8Array.from(atob(arguments[0]), (c) => c.charCodeAt(0));
      const files = new DataTransfer();
      files.items.add(new File([bytes], "mill-pond.flac", { type: "audio/flac" }));
      files.items.add(new File([arguments[1]], "mill-pond.rig"));
      const input = document.getElementById("open-files");
      input.files = files.files;
      input.dispatchEvent(new Event("change"));`, readFileSync('samples/mill-pond.flac').toString('base64'), readFileSync('samples/mill-pond.rig', 'utf8'));
    await firefox.wait('(window.thundercue && window.thundercue.state().bench) || document.querySelector("[data-state=failed]")');
    assert.equal(await firefox.run('return document.getElementById("shelf").textContent.match(/can.t.*/)?.[0] || "";'), '');
    for (const what of ['events', 'frames', 'ramps'])
      assert.ok((await fileOf(what)).equals(readFileSync(path.join(out, `mill-pond.${what}.csv`))), `${what}.csv differs`);
  });
  await test('several recordings keep their own edits, a bad one is a line, and keys go to rumbles', async () => {
    await firefox.run(`const files = new DataTransfer();
      files.items.add(new File([Uint8Array.from(atob(arguments[0]), (c) => c.charCodeAt(0))], "again.flac"));
      files.items.add(new File(["no sound"], "bad.ogg"));
      const input = document.getElementById("open-files");
      input.files = files.files;
      input.dispatchEvent(new Event("change"));`, readFileSync('samples/mill-pond.flac').toString('base64'));
    await firefox.wait('document.querySelectorAll("[data-state=ready]").length === 2 && document.querySelector("[data-state=failed]")');
    assert.match(await firefox.run('return document.querySelector("[data-state=failed] .shelf-state").textContent;'), /can't read it as sound/);
    const before = await fileOf('events');
    await firefox.run(`document.dispatchEvent(new KeyboardEvent("keydown", { key: "r", bubbles: true }));
      document.dispatchEvent(new KeyboardEvent("keydown", { key: "Delete", bubbles: true }));`);
    const deleted = await fileOf('events');
    assert.ok(!deleted.equals(before));
    const choose = async (k) => {
      await firefox.run(`document.querySelectorAll(".shelf-name")[${k}].click();`);
      await firefox.wait(`document.querySelectorAll(".shelf-name")[${k}].getAttribute("aria-current") && window.thundercue.state().bench`);
    };
    await choose(1);
    assert.ok((await fileOf('events')).equals(before));
    await choose(0);
    assert.ok((await fileOf('events')).equals(deleted));
    await firefox.run('document.getElementById("undo").click();');
    assert.ok((await fileOf('events')).equals(before));
  });
  await test('nothing is asked for from elsewhere', async () => {
    const asked = await firefox.run('return performance.getEntriesByType("resource").map((entry) => entry.name);');
    assert.deepEqual(asked.filter((name) => !/^(blob|data):/.test(name)), []);
    writeFileSync(path.join(folder, 'shots', 'firefox.png'), await firefox.picture());
  });
} catch (problem) {
  failed = 1;
  console.log(`[  FAILED  ] Firefox: the tests can't run\n${problem.stack}`);
}
if (firefox) {
  firefox.stop();
  await new Promise((done) => firefox.process.once('exit', done));
}
rmSync(work, { recursive: true, force: true });
process.exitCode = failed;
