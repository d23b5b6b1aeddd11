// The rig in the page, in a real browser: what is changed by hand gives the program's bytes, is refused in plain words where
// the library refuses it, and is undone.
//
//   node tests/page/test_rig.mjs PROGRAM FOLDER [words...]
import assert from 'node:assert/strict';
import { spawnSync } from 'node:child_process';
import { readFileSync, writeFileSync } from 'node:fs';
import path from 'node:path';
import { pathToFileURL } from 'node:url';
import { browser, cue as cueRecording, fileOf, openBench, program, runTests, shots, state, storm, test, work } from './browser.mjs';
import { writeStorm } from './storm.mjs';
import { openRig, rigEdits } from './rig_edits.mjs';
import { asProgramWrites, assertSameShow } from './same.mjs';

const recording = path.resolve('samples/mill-pond.flac');
const cue = (...more) => cueRecording(recording, ...more);
const open = (file, options) => openBench(file, { height: 900, ...options });

const handOf = (page) => ({
  run: (script, ...args) => page.evaluate(([body, list]) => new Function('...args', body)(...list), [script, args]),
  async drag([x0, y0], [x1, y1]) {
    await page.mouse.move(x0, y0);
    await page.mouse.down();
    await page.mouse.move((x0 + x1) / 2, (y0 + y1) / 2, { steps: 3 });
    await page.mouse.move(x1, y1, { steps: 3 });
    await page.mouse.up();
  },
  press: (key) => page.keyboard.press(key),
});

const rigOf = async (page) => (await fileOf(page, 'rig')).toString('utf8');

const field = (page, label) => page.locator('#rig-fields .rig-field', { has: page.locator(`label:text-is("${label}")`) });
async function enter(page, label, value) {
  const input = field(page, label).locator('input, select');
  if (await input.evaluate((part) => part.matches('select'))) await input.selectOption(value);
  else {
    await input.fill(value);
    await input.blur();
  }
}
const problemAt = (page, label) => field(page, label).locator('.field-problem').textContent();

test('a rig changed in the page gives the bytes of the program, step by step, and all is undone', async () => {
  const times = [];
  for (const rig of [null, 'samples/mill-pond.rig']) {
    const page = await open(cue(...(rig ? ['--rig', rig] : [])));
    const before = { rig: await rigOf(page), frames: await fileOf(page, 'frames') };
    if (rig) assert.equal(before.rig, readFileSync(rig, 'utf8'), 'the rig file is the one that came in');
    else assert.equal(before.rig, spawnSync(program, ['rig', '--format', 'rig'], { encoding: 'utf8' }).stdout);
    const hand = handOf(page);
    await openRig(hand);
    for (const [step, act, change] of rigEdits(hand)) {
      const then = asProgramWrites(program, work, await rigOf(page));
      await act();
      const now = await rigOf(page);
      assert.notEqual(now, then, `${step} changed nothing`);
      // The built-in rig is as the program writes it; somebody's own file keeps its comments, all of them outside of what goes.
      if (!rig) assert.equal(now, asProgramWrites(program, work, now), `${step}: not as the program writes it`);
      else for (const comment of before.rig.match(/^;.*$/gm)) assert.ok(now.includes(`${comment}\n`), `${step}: '${comment}' is gone`);
      if (change) assert.equal(asProgramWrites(program, work, now), asProgramWrites(program, work, change(then)), step);
      // The built-in rig's show after every edit, the other's after all of them.
      if (!rig || step === 'laid out by its forks') await assertSameShow(program, work, recording, (what) => fileOf(page, what), `${step}, ${rig || 'built-in rig'}`);
      times.push(await page.evaluate(() => window.thundercue.tookMs()));
      assert.equal(await page.isVisible('#bench-problem'), false);
    }
    const again = await open(await savedPage(page));
    for (const what of ['rig', 'frames']) assert.ok((await fileOf(again, what)).equals(await fileOf(page, what)), `${what} of the saved page`);
    const last = { rig: await rigOf(page), frames: await fileOf(page, 'frames') };
    await assertInZip(page, 'mill-pond.rig', last.rig);
    await clickAll(page, 'undo');
    assert.equal(await rigOf(page), before.rig);
    assert.ok((await fileOf(page, 'frames')).equals(before.frames));
    await clickAll(page, 'redo');
    assert.equal(await rigOf(page), last.rig);
    assert.ok((await fileOf(page, 'frames')).equals(last.frames));
    assert.deepEqual([...page.complaints, ...again.complaints], []);
  }
  const middle = times.sort((a, b) => a - b)[times.length >> 1];
  console.log(`# cueing 33 s of storm anew for another rig took ${middle.toFixed(1)} ms (the middle of ${times.length}), ${times.at(-1).toFixed(1)} ms at most`);
});

const clickAll = (page, id) => page.evaluate((name) => {
  for (let k = 0; k < 100 && !document.getElementById(name).disabled; k++) document.getElementById(name).click();
}, id);

// Python's zipfile reads what "Save all" hands out.
async function assertInZip(page, name, text) {
  const [download] = await Promise.all([page.waitForEvent('download'), page.click('[data-save="all"]')]);
  const zip = path.join(work, 'all.zip');
  await download.saveAs(zip);
  const read = spawnSync('python3', ['-c', 'import sys,zipfile\nsys.stdout.buffer.write(zipfile.ZipFile(sys.argv[1]).read(sys.argv[2]))', zip, name]);
  assert.equal(read.stdout.toString('utf8'), text);
}

async function savedPage(page) {
  const saved = path.join(work, 'saved.preview.html');
  writeFileSync(saved, await fileOf(page, 'page'));
  return saved;
}

test('what drags is drawn where it was dropped, in the page and in those that the program writes', async () => {
  const page = await open(cue());
  const hand = handOf(page);
  await openRig(hand);
  const drags = rigEdits(hand).filter(([step]) => /dragged/.test(step));
  for (const [, act] of drags) await act();
  const spots = (of) => of.evaluate(() => [6, 13, 12].map((number) => {
    const box = window.thundercue.picture.getBoundingClientRect();
    const { x, y } = window.thundercue.spot(number);
    return [x - box.left, y - box.top].map(Math.round);
  }));
  writeFileSync(path.join(work, 'hung.rig'), await fileOf(page, 'rig'));
  const made = await open(cue('--rig', path.join(work, 'hung.rig')));
  assert.deepEqual(await spots(made), await spots(page));
  const plain = await open(cue());
  assert.notDeepEqual(await spots(plain), await spots(made));
  // The end that was dragged lies at its percentages of the picture.
  const rig = await rigOf(page);
  const [, x, y] = rig.match(/\[channel 13\][^[]*\nx = (.*)\ny = (.*)\n/);
  const [[, [left, foot]], height] = [await spots(page).then((list) => [list[0], list[1]]), await page.evaluate(() => window.thundercue.picture.clientHeight)];
  const width = await page.evaluate(() => window.thundercue.picture.clientWidth);
  assert.ok(Math.abs(left - (width * x) / 100) <= 1 && Math.abs(foot + 4 - 0.795 * height * (1 - y / 100)) <= 2, `${left} ${foot} for ${x} ${y}`);
});

test('a branch moves alone, or with all that grows from it, and the shape stays', async () => {
  const page = await open(cue());
  const hand = handOf(page);
  await openRig(hand);
  const places = async () => Object.fromEntries([...(await rigOf(page)).matchAll(/\[channel (\d+)\][^[]*?\nx = (.*)\ny = (.*)\n/g)].map(([, number, x, y]) => [number, [Number(x), Number(y)]]));
  const edits = rigEdits(hand);
  await edits.find(([step]) => step === 'a flood dragged')[1].call(null, await page.click('#rig-arrange'));
  const before = await places();
  assert.equal(Object.keys(before).length, 16);
  await edits.find(([step]) => /grows from it$/.test(step))[1]();
  const after = await places();
  const width = await page.evaluate(() => window.thundercue.picture.clientWidth);
  // The built-in rig's channels below the second: 3, 4, 7 to 10 and 12.
  for (const number of Object.keys(before)) {
    const moves = [2, 3, 4, 7, 8, 9, 10, 12].includes(Number(number));
    assert.ok(Math.abs(after[number][0] - before[number][0] - (moves ? 4800 / width : 0)) <= 0.11, `channel ${number}: ${before[number]} to ${after[number]}`);
    assert.equal(after[number][1], before[number][1]);
  }
  // Against the edge the whole stops, and keeps its shape.
  await hand.run('document.querySelector(".handles-bar input").checked = true; document.getElementById("rig-arrange").click();');
  await page.focus('.handle.chosen.end');
  for (let k = 0; k < 20; k++) await page.keyboard.press('Shift+ArrowRight');
  const edge = await places();
  assert.equal(Math.max(...[2, 3, 4, 7, 8, 9, 10, 12].map((number) => edge[number][0])), 100);
  for (const number of [3, 4, 7, 8, 9, 10, 12]) assert.ok(Math.abs(edge[number][0] - edge[2][0] - (after[number][0] - after[2][0])) <= 0.21);
  await page.click('#undo');
  assert.deepEqual(await places(), after);
  assert.deepEqual(page.complaints, []);
});

test('nothing flashes while lights are arranged, and playing ends it', async () => {
  const page = await open(cue());
  await page.click('#rig-bench summary');
  const crack = (await page.evaluate(() => window.thundercue.events())).find(({ kind, strength }) => kind === 'crack' && strength > 0.9).start_s;
  const bright = () => page.evaluate(() => {
    const canvas = window.thundercue.picture;
    const { data } = canvas.getContext('2d').getImageData(0, 0, canvas.width, canvas.height);
    let sum = 0;
    for (let k = 0; k < data.length; k += 4) sum += data[k];
    return sum / (data.length / 4);
  });
  await page.evaluate((at) => window.thundercue.seek(at), crack);
  const lit = await bright();
  await page.click('#rig-arrange');
  assert.ok((await bright()) < lit / 2, `${await bright()} of ${lit}`);
  await page.click('#play');
  await page.click('#accept');
  await page.waitForFunction(() => window.thundercue.state().playing && document.querySelector('.handles').hidden, null, { timeout: 20000 });
  assert.equal(await page.getAttribute('#rig-arrange', 'aria-pressed'), 'false');
  // And the other way round: arranging pauses the storm.
  await page.evaluate(() => document.getElementById('rig-arrange').click());
  assert.equal(await page.evaluate(() => window.thundercue.state().playing), false);
  // Reading the picture twice is the test's own doing.
  assert.deepEqual(page.complaints.filter((words) => !/getImageData/.test(words)), []);
});

test('a finger drags, and what is dragged to the edge stays in the picture', async () => {
  const page = await open(cue(), { width: 360, height: 740, hasTouch: true, isMobile: true });
  await page.click('#rig-bench summary');
  await page.click('#rig-arrange');
  await page.locator('#theatre').scrollIntoViewIfNeeded();
  const box = await page.locator('.handle[data-number="16"]').boundingBox();
  const finger = await page.context().newCDPSession(page);
  const touch = (type, x, y) => finger.send('Input.dispatchTouchEvent', { type, touchPoints: type === 'touchEnd' ? [] : [{ x, y }] });
  const [x, y] = [box.x + box.width / 2, box.y + box.height / 2];
  await touch('touchStart', x, y);
  for (let k = 1; k <= 6; k++) await touch('touchMove', x + 30 * k, y + 10 * k);
  await touch('touchEnd');
  assert.match(await rigOf(page), /\[channel 16\][^[]*\nx = 100\ny = 0\n/);
  assert.deepEqual(page.complaints, []);
});

test('what the library refuses is said at the field, and the rig stays as it was', async () => {
  const page = await open(cue());
  await page.click('#rig-bench summary');
  const before = await rigOf(page);
  const frames = await fileOf(page, 'frames');
  for (const [label, value, words] of [
    ['Watts', 'five', /watts 'five' is not a number/],
    ['Watts', '0', /watts 0 is below 0\.01/],
    ['Lights from', '130', /lights from 130 is above 100/],
    ['Lights from', '100', /lights from 100 is not below brightest at 100/],
    ['Slot', '2', /channels 1 and 2 have the same slot, 2/],
    ['Channel', '600', /from 1 to 512/],
    ['Channel', '2', /channel 2 is there already/],
    ['From the left', '101', /x 101 is above 100/],
    ['Name', 'tip ; of the bolt', /a ; after a space is a comment/],
    ['Name', 'x'.repeat(500), /has 500 bytes: up to 399 fit/],
  ]) {
    await enter(page, label, value);
    assert.match(await problemAt(page, label), words);
    assert.equal(await field(page, label).locator('input').getAttribute('aria-invalid'), 'true');
    assert.equal(await rigOf(page), before, `${label} ${value} changed the rig`);
    await page.click('#rig-row-2');
    await page.click('#rig-row-1');
    assert.equal(await problemAt(page, label), '');
  }
  // Nothing may grow from itself or from what grows from it.
  const offered = await field(page, 'Grows from').locator('option').allTextContents();
  assert.deepEqual(offered, ['(a root)']);
  await page.click('#rig-row-3');
  assert.ok(!(await field(page, 'Grows from').locator('option').allTextContents()).some((text) => /^(3|4|9|10|12) /.test(text)));
  // A circuit's name twice, a breaker of nothing, a ] in a name.
  const circuit = page.locator('#rig-circuits li').first().locator('input');
  await page.click('#rig-add-circuit');
  const second = page.locator('#rig-circuits li').nth(1);
  await second.locator('input').first().fill('main');
  await second.locator('input').nth(1).fill('0');
  assert.match(await second.locator('.field-problem').first().textContent(), /circuit main is there already/);
  await second.locator('input').nth(1).blur();
  assert.match(await second.locator('.field-problem').nth(1).textContent(), /breaker 0 is below 0\.5/);
  await circuit.first().fill('a]b');
  await circuit.first().blur();
  assert.match(await page.locator('#rig-circuits li').first().locator('.field-problem').first().textContent(), /names can't contain one/);
  // Two channels of one name are no error, but told.
  await page.click('#rig-row-1');
  await enter(page, 'Name', 'flood left');
  assert.match(await problemAt(page, 'Name'), /channel 13 has this name, too/);
  await clickAll(page, 'undo');
  assert.equal(await rigOf(page), before);
  assert.ok((await fileOf(page, 'frames')).equals(frames));
  assert.deepEqual(page.complaints, []);
});

test('a circuit above 80 % of its breaker is a finding, with who decides', async () => {
  const page = await open(cue());
  await page.click('#rig-bench summary');
  const words = () => page.locator('#rig-circuits .circuit-words').first().textContent();
  assert.match(await words(), /16 channels, all on 120 W, 6\.7 % of the breaker/);
  // 15 A at 120 V are 1800 W, 80 % of that 1440 W: with the others' 115 W it takes 1325 W to reach the line.
  await enter(page, 'Watts', '1325');
  assert.ok(!/above/.test(await words()));
  await enter(page, 'Watts', '1326');
  assert.match(await words(), /1441 W, 80 % of the breaker: above the line of 80 %.*licensed electrician/);
  assert.match(await page.textContent('#say'), /Circuit main is above 80 % of its breaker/);
  writeFileSync(path.join(work, 'heavy.rig'), await fileOf(page, 'rig'));
  assert.match(spawnSync(program, ['rig', path.join(work, 'heavy.rig')], { encoding: 'utf8' }).stdout, /80 %/);
  assert.equal(spawnSync(program, ['rig', path.join(work, 'heavy.rig'), '--format', 'csv']).status, 1);
});

test('the list goes by keys, and keys of the page do not act in its fields', async () => {
  const page = await open(cue());
  await page.click('#rig-bench summary');
  await page.focus('#rig-list');
  for (const key of ['ArrowDown', 'ArrowDown', 'End', 'ArrowUp']) await page.keyboard.press(key);
  assert.match(await page.textContent('#rig-form-head'), /^Channel 15: /);
  assert.equal(await page.getAttribute('#rig-list', 'aria-activedescendant'), 'rig-row-15');
  await page.keyboard.press('Delete');
  assert.ok(!/\[channel 15\]/.test(await rigOf(page)));
  assert.match(await page.textContent('#say'), /flood centre right removed/);
  // A branch that is clicked in the picture comes in hand.
  await page.evaluate(() => window.scrollTo(0, 0));
  const spot = await page.evaluate(() => window.thundercue.spot(11));
  await page.mouse.click(spot.x, spot.y);
  assert.match(await page.textContent('#rig-form-head'), /^Channel 11: /);
  const input = field(page, 'Name').locator('input');
  await input.fill('');
  await input.pressSequentially('anp 0 [mill] 12');
  const { time, playing } = await page.evaluate(() => window.thundercue.state());
  assert.deepEqual([time, playing], [0, false]);
  await page.keyboard.press('Enter');
  assert.match(await rigOf(page), /name = anp 0 \[mill\] 12\n/);
  await page.keyboard.press('Control+z');
  await page.keyboard.press('Control+z');
  assert.match(await rigOf(page), /\[channel 15\]/);
  // The events are those that were there: A added no crack, Delete took none.
  assert.equal(await page.isDisabled('#undo'), true);
});

test('by keyboard alone: the rig is unfolded, a light moved, a flood added and named, the file saved', async () => {
  const page = await open(cue());
  const tabTo = async (words) => {
    for (let k = 0; k < 80; k++) {
      await page.keyboard.press('Tab');
      if ((await page.evaluate(() => document.activeElement.textContent)).trim() === words) return;
    }
    assert.fail(`Tab never comes to ${words}`);
  };
  await page.focus('#setting-weakest-light');
  await tabTo('Change the rig');
  await page.keyboard.press('Enter');
  await tabTo('Arrange in the picture');
  await page.keyboard.press('Enter');
  assert.match(await page.evaluate(() => document.activeElement.getAttribute('aria-label')), /^1 trunk top: lower end/);
  await page.keyboard.press('PageDown');
  const before = await page.evaluate(() => document.activeElement.getAttribute('aria-label'));
  await page.keyboard.press('ArrowUp');
  await page.keyboard.press('Shift+ArrowLeft');
  const after = await page.evaluate(() => document.activeElement.getAttribute('aria-label'));
  const numbers = (label) => label.match(/[\d.]+ %/g).map(parseFloat);
  const [[x0, y0], [x1, y1]] = [numbers(before), numbers(after)];
  assert.ok(Math.abs(x0 - x1 - 5) < 0.01 && Math.abs(y1 - y0 - 1) < 0.01, `${before} to ${after}`);
  assert.match(await rigOf(page), new RegExp(`\\[channel 2\\][^[]*\nx = ${x1}\ny = ${y1}\n`));
  await page.keyboard.press('Escape');
  assert.equal(await page.evaluate(() => document.activeElement.id), 'rig-arrange');
  await tabTo('Add a flood');
  await page.keyboard.press('Enter');
  await page.keyboard.type('weir');
  await page.keyboard.press('Enter');
  assert.match(await rigOf(page), /\[channel 17\]\nname = weir\nkind = flood\n[^[]*\ny = 0\n/);
  await page.focus('#rig-add-flood');
  await tabTo('Save the rig file');
  const [download] = await Promise.all([page.waitForEvent('download'), page.keyboard.press('Enter')]);
  assert.equal(download.suggestedFilename(), 'mill-pond.rig');
  assert.deepEqual(page.complaints, []);
});

test('a rig file is opened in the place of the rig, byte for byte, and a wrong one is refused by line', async () => {
  const page = await open(cue());
  await page.click('#rig-bench summary');
  await page.setInputFiles('#rig-open', 'samples/three-bolts.rig');
  await page.waitForFunction(() => document.querySelectorAll('#rig-list li').length > 16);
  assert.equal(await rigOf(page), readFileSync('samples/three-bolts.rig', 'utf8'));
  await assertSameShow(program, work, recording, (what) => fileOf(page, what), 'another rig');
  const wrong = path.join(work, 'wrong <img src=x onerror=alert(1)>.rig');
  writeFileSync(wrong, '[channel 1]\nname = a\nkind = lamp\n');
  await page.setInputFiles('#rig-open', wrong);
  await page.waitForSelector('#rig-problem:not([hidden])');
  assert.match(await page.textContent('#rig-problem'), /^wrong <img src=x onerror=alert\(1\)>\.rig:3: channel 1: kind 'lamp' is not branch or flood/);
  assert.equal(await page.locator('img').count(), 0);
  assert.equal(await rigOf(page), readFileSync('samples/three-bolts.rig', 'utf8'));
  await page.click('#undo');
  assert.equal(await page.locator('#rig-list li').count(), 16);
  await drop(page, 'no name.rig', '[circuit a]\nbreaker_amps = 15\n[channel 1]\nkind = branch\nwatts = 5\ncircuit = a\n');
  await page.waitForFunction(() => document.querySelectorAll('#rig-list li').length === 1);
  assert.equal(await page.textContent('#under-rig'), 'no name.rig');
  await enter(page, 'Watts', '6');
  assert.match(await rigOf(page), /^\[rig\]\nname = no name\.rig\n/);
  await drop(page, 'yard.rig', readFileSync('samples/backyard.rig', 'utf8'));
  await page.waitForFunction(() => document.querySelectorAll('#rig-list li').length === 4);
  assert.equal(await rigOf(page), readFileSync('samples/backyard.rig', 'utf8'));
  assert.deepEqual(page.complaints, []);
});

test('in the page without a storm a rig goes for one recording or for all, and comes by drop', async () => {
  const page = await (await browser.newContext({ viewport: { width: 1024, height: 900 } })).newPage();
  const complaints = [];
  page.on('pageerror', (error) => complaints.push(String(error)));
  await page.goto(pathToFileURL(path.resolve('build/thundercue.html')).href);
  const other = path.join(work, 'other.wav');
  writeStorm(other, { seconds: 5, cracks: [1, 3] });
  await page.setInputFiles('#open-files', [recording, other]);
  await page.waitForFunction(() => window.thundercue && window.thundercue.state().bench && document.querySelectorAll('[data-state="ready"]').length === 2);
  await page.click('#rig-bench summary');
  await page.click('#rig-row-2');
  await enter(page, 'Watts', '40');
  await assertSameShow(program, work, recording, (what) => fileOf(page, what), 'one rig changed');
  const rig = await rigOf(page);
  const to = async (name) => {
    await page.click(`.shelf-row:has-text("${name}") .shelf-name`);
    await page.waitForSelector(`.shelf-row:has-text("${name}") [aria-current="true"]`);
    await page.waitForFunction(() => window.thundercue && window.thundercue.state().bench);
  };
  await to('other.wav');
  assert.notEqual(await rigOf(page), rig);
  await to('mill-pond');
  assert.equal(await rigOf(page), rig);
  // What was unfolded stays so from one recording to the next.
  await page.click('#rig-for-all');
  await page.waitForFunction(() => /All recordings/.test(document.getElementById('say').textContent));
  await to('other.wav');
  assert.equal(await rigOf(page), rig);
  await assertSameShow(program, work, other, (what) => fileOf(page, what), 'its rig for all');
  await drop(page, 'three-bolts.rig', readFileSync('samples/three-bolts.rig', 'utf8'));
  await page.waitForFunction(() => document.getElementById('under-channels').textContent.startsWith('24') || document.querySelectorAll('.strip-label').length > 16);
  assert.equal(await rigOf(page), readFileSync('samples/three-bolts.rig', 'utf8'));
  assert.deepEqual(complaints, []);
});

test('what a page of one recording has no use for is said, and a wrong rig file, too', async () => {
  const page = await open(cue());
  await drop(page, 'other.wav', 'RIFF');
  assert.match(await page.textContent('#bench-problem'), /a rig file can be dropped onto it\. Recordings, events and settings go onto thundercue\.html/);
  assert.ok(await page.isVisible('#bench-problem'));
  await drop(page, 'wrong.rig', '[channel 1]\nkind = lamp\n');
  await page.waitForSelector('#rig-problem:visible');
  assert.match(await page.textContent('#rig-problem'), /^wrong\.rig:2: /);
  assert.deepEqual(page.complaints, []);
});

const drop = (page, name, text) => page.evaluate(([file, words]) => {
  const dataTransfer = new DataTransfer();
  dataTransfer.items.add(new File([words], file));
  document.body.dispatchEvent(new DragEvent('drop', { dataTransfer, bubbles: true, cancelable: true }));
}, [name, text]);

test('a rig file of the user\'s own keeps its comments, and the page says so before it saves one that can\'t', async () => {
  const own = '; by the pond, 2 strings\r\n[circuit left]\r\nbreaker_amps = 15   ; by the gate\r\n\r\n[defaults]\r\nlumens = 400 ; each of them\r\ncircuit = left\r\n\r\n'
    + '; the trunk\r\n[channel 1]\r\nkind = branch\r\nwatts = 5.0 ; as on its label\r\n[channel 2]\r\nkind = flood\r\nwatts = 15\r\n; the end';
  const file = path.join(work, 'own.rig');
  writeFileSync(file, own);
  const page = await open(cue('--rig', file));
  await page.click('#rig-bench summary');
  await page.click('#rig-row-1');
  await enter(page, 'Watts', '7.5');
  await enter(page, 'Curve', 'square');
  // The name that the file went by is in it then.
  const kept = own.replace('5.0', '7.5').replace('on its label\r\n', 'on its label\r\ncurve = square\r\n').replace('strings\r\n', 'strings\r\n[rig]\r\nname = own.rig\r\n\r\n');
  assert.equal(await rigOf(page), kept);
  assert.ok(await page.isHidden('#rig-anew'));
  await assertSameShow(program, work, recording, (what) => fileOf(page, what), 'an own rig with its comments');
  // What [defaults] say of every lamp can't be taken back for one.
  await page.click('.rig-more summary');
  const lumens = page.locator('#rig-more-fields .rig-field', { has: page.locator('label:text-is("Lumens")') }).locator('input');
  await lumens.fill('');
  await lumens.blur();
  assert.ok(await page.isVisible('#rig-anew'));
  await page.screenshot({ path: path.join(shots, 'rig-anew.png') });
  const anew = await rigOf(page);
  assert.equal(anew, asProgramWrites(program, work, anew));
  await page.click('#undo');
  assert.equal(await rigOf(page), kept);
  assert.ok(await page.isHidden('#rig-anew'));
  assert.deepEqual(page.complaints, []);
});

test('512 channels are the most, and hostile names stay text', async () => {
  const many = spawnSync(program, ['rig', '--new', '--branches', '500', '--floods', '11'], { encoding: 'utf8' }).stdout;
  const file = path.join(work, 'many.rig');
  const hostile = '<img src=x onerror=alert(1)> "it\'s" & </script><script>alert(2)</script> \u202Eemag';
  writeFileSync(file, many.replace('name = trunk 1\n', `name = ${hostile}\n`).replaceAll('C1\n', '<b>C</b>\u2028constructor\n').replace('[circuit C1]', '[circuit <b>C</b>\u2028constructor]'));
  const page = await open(cue('--rig', file));
  await page.click('#rig-bench summary');
  await page.waitForSelector('#rig-row-511');
  await page.click('#rig-add-flood');
  assert.ok(await page.isDisabled('#rig-add-flood') && await page.isDisabled('#rig-add-branch'));
  await page.click('#rig-row-1');
  await page.click('#rig-arrange');
  await page.waitForSelector('.handle.chosen');
  assert.equal(await page.locator('img').count(), 0);
  assert.equal(await page.locator('body script').count(), 4);
  assert.equal(await page.locator('#rig-bench b:text-is("C")').count(), 0);
  // And none of them is lost on the way through the page.
  await enter(page, 'Watts', '9');
  const rig = await rigOf(page);
  assert.ok(rig.includes(`name = ${hostile}\n`) && rig.includes('[circuit <b>C</b>\u2028constructor]\n'));
  // All else is as it was: the flood at the end of its kind, and one line with other watts.
  const lines = readFileSync(file, 'utf8').split('\n');
  const now = rig.split('\n');
  const flood = now.indexOf('[channel 512]');
  assert.ok(flood > 0);
  now.splice(flood - 1, now.indexOf('', flood) - flood + 1); // with the blank line before it, as between the others
  const other = lines.map((line, k) => [line, now[k]]).filter(([a, b]) => a !== b);
  assert.equal(now.length, lines.length);
  assert.equal(other.length, 1, JSON.stringify(other));
  assert.deepEqual(other.map(([a, b]) => [a.replace(/= \S+/, '='), b]), [['watts =', 'watts = 9']]);
  asProgramWrites(program, work, rig);
  assert.ok(await page.evaluate(() => document.documentElement.scrollWidth <= innerWidth));
  assert.deepEqual(page.complaints, []);
});

test('the rig fits a telephone and a wide screen, and everything has a name (screenshots)', async () => {
  for (const [width, height] of [[360, 740], [1024, 768], [1920, 1080]]) {
    const page = await open(cue('--rig', 'samples/mill-pond.rig'), { width, height });
    // First-time users see one line of it.
    assert.ok(!(await page.isVisible('#rig-list')) && await page.isVisible('#rig-bench summary'));
    await page.click('#rig-bench summary');
    await page.click('#rig-row-5');
    assert.ok(await page.evaluate(() => document.documentElement.scrollWidth <= innerWidth));
    const nameless = await page.evaluate(() => [...document.querySelectorAll('#rig-bench button, #rig-bench input, #rig-bench select, .handle')]
      .filter((part) => !(part.getAttribute('aria-label') || part.textContent.trim() && !part.matches('select') || (part.labels && part.labels[0]?.textContent.trim())))
      .map((part) => part.outerHTML));
    assert.deepEqual(nameless, []);
    await page.locator('#rig-bench').screenshot({ path: path.join(shots, `rig-${width}.png`) });
    await page.click('#rig-arrange');
    await page.waitForTimeout(100);
    assert.ok(await page.evaluate(() => document.documentElement.scrollWidth <= innerWidth));
    assert.match(await page.getAttribute('.handle.chosen.end', 'aria-label'), /^5 mill fork: lower end, [\d.]+ % from the left, [\d.]+ % up$/);
    await page.locator('#theatre').screenshot({ path: path.join(shots, `arrange-${width}.png`) });
    assert.deepEqual(page.complaints, []);
  }
});

await runTests();
