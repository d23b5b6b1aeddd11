// Cracks dragged in the lanes, in a real browser: by mouse and by finger, let go, put back and undone.
//
//   node tests/page/test_carry.mjs PROGRAM FOLDER [words...]
import assert from 'node:assert/strict';
import { readFileSync, writeFileSync } from 'node:fs';
import path from 'node:path';
import { assertSameAsProgram, base, cue, eventsOf, fileOf, measure, open, openBench, runTests, seek, shots, slide, state, test, work } from './browser.mjs';

// WCAG 2.2, 2.5.8: targets are at least 24 CSS pixels wide and high.
const TARGET = 24;

async function eventsLane(page) {
  await page.locator('[data-lane="events"]').scrollIntoViewIfNeeded();
  return page.locator('[data-lane="events"] canvas').boundingBox();
}

// A point on the mark of the k-th crack: {x, y, second: pixels of a second}.
async function markOf(page, k, down = 20) {
  const box = await eventsLane(page);
  const { view } = await state(page);
  const crack = (await eventsOf(page)).filter(({ kind }) => kind === 'crack')[k];
  const second = box.width / (view.to - view.from);
  return { crack, second, x: box.x + (crack.start_s - view.from) * second, y: box.y + down };
}

async function drag(page, x, y, by, { drop = true } = {}) {
  await page.mouse.move(x, y);
  await page.mouse.down();
  for (let k = 1; k <= 8; k++) await page.mouse.move(x + (by * k) / 8, y + k);
  if (drop) await page.mouse.up();
}

const undoSteps = (page) => page.evaluate(() => {
  let steps = 0;
  for (const undo = document.getElementById('undo'); !undo.disabled; steps++) undo.click();
  return steps;
});

test('a crack dragged is the crack moved by its field, byte for byte, and one step of undo', async () => {
  const recording = path.resolve('samples/mill-pond.flac');
  const page = await openBench(cue(recording));
  const untouched = await fileOf(page, 'events');
  for (const [k, by] of [[2, 60], [10, -45], [2, 37]]) {
    const before = await fileOf(page, 'events');
    const { crack, second, x, y } = await markOf(page, k);
    await drag(page, x, y, by);
    const after = await eventsOf(page);
    const moved = after.find((event) => event.kind === 'crack' && event.strength === crack.strength && Math.abs(event.start_s - crack.start_s - by / second) < 0.6 / second);
    assert.ok(moved, `no crack ${by} pixels from ${crack.start_s}: ${JSON.stringify(after)}`);
    assert.deepEqual([moved.sharpness, moved.level_dbfs], [crack.sharpness, crack.level_dbfs]);
    assert.match(await page.textContent('#say'), /^Crack moved to 0:/);
    assert.equal(await page.inputValue('#hand-at'), moved.start_s.toFixed(3));
    const [events, frames] = [await fileOf(page, 'events'), await fileOf(page, 'frames')];
    await assertSameAsProgram(page, recording, null, `a crack dragged by ${by} pixels`);
    // Undone in one step; the field then gives the same bytes.
    await page.click('#undo');
    assert.ok(before.equals(await fileOf(page, 'events')));
    await page.fill('#hand-at', moved.start_s.toFixed(3));
    await page.locator('#hand-at').blur();
    assert.ok(events.equals(await fileOf(page, 'events')) && frames.equals(await fileOf(page, 'frames')), 'the field gives other bytes');
  }
  assert.equal(await undoSteps(page), 3);
  assert.ok(untouched.equals(await fileOf(page, 'events')));
  assert.deepEqual(page.complaints, []);
});

test('a crack can be taken as widely as WCAG asks, the pointer shows it, and beside it a drag chooses a loop', async () => {
  const page = await openBench(base);
  const cursor = () => page.evaluate(() => getComputedStyle(document.querySelector('[data-lane="events"]')).cursor);
  const before = await fileOf(page, 'events');
  for (const [across, down, takes] of [[-TARGET / 2 + 0.5, 0, true], [TARGET / 2 - 0.5, 0, true], [0, -14, true], [0, TARGET - 14, true], [TARGET / 2 + 3, 0, false], [0, 36, false]]) {
    const { x, y } = await markOf(page, 1);
    await page.mouse.move(x + across, y + down);
    assert.equal(await cursor(), takes ? 'grab' : 'crosshair', `${across}, ${down}`);
    await drag(page, x + across, y + down, 40, { drop: false });
    assert.equal(await cursor(), takes ? 'grabbing' : 'crosshair');
    if (takes && !across) await page.screenshot({ path: path.join(shots, 'carry.png') });
    await page.mouse.up();
    assert.equal(!before.equals(await fileOf(page, 'events')), takes, `${across}, ${down}`);
    assert.equal(Boolean((await state(page)).loop), !takes);
    if (takes) await page.click('#undo');
    else await page.keyboard.press('Escape');
  }
  // Carried out of the lanes it stays within the recording.
  const { x, y } = await markOf(page, 1);
  await drag(page, x, y, 4000);
  assert.equal((await eventsOf(page)).filter(({ kind }) => kind === 'crack').at(-1).start_s, 9);
  const { view, end } = await state(page);
  assert.deepEqual(view, { from: 0, to: end });
  await page.click('#undo');
  assert.equal(await undoSteps(page), 0);
  assert.deepEqual(page.complaints, []);
});

test('a plain click on a crack selects it and goes there as before, and a hand that trembles moves nothing', async () => {
  const page = await openBench(base);
  for (const tremble of [0, 3]) {
    const { x, y, crack } = await markOf(page, 1);
    await drag(page, x, y, tremble);
    assert.ok(await page.isVisible('#in-hand'));
    assert.equal(await page.inputValue('#hand-at'), crack.start_s.toFixed(3));
    assert.ok(Math.abs((await state(page)).time - crack.start_s) < 0.02);
    assert.equal(await undoSteps(page), 0);
  }
  // The keys move it as before.
  const { crack } = await markOf(page, 1);
  await page.keyboard.press('.');
  assert.equal(Math.round(((await markOf(page, 1)).crack.start_s - crack.start_s) * 1000), 10);
  assert.equal(await undoSteps(page), 1);
  assert.deepEqual(page.complaints, []);
});

test('Escape puts a dragged crack back as if nobody had touched it, and so does dropping it where it was', async () => {
  const page = await openBench(base);
  await page.keyboard.press('n');
  await page.keyboard.press('Delete');
  await page.click('#undo');
  await page.keyboard.press('[');
  const [before, { loop }] = [await fileOf(page, 'frames'), await state(page)];
  const { x, y } = await markOf(page, 1);
  await drag(page, x, y, 70, { drop: false });
  assert.ok(!before.equals(await fileOf(page, 'frames')));
  // Other keys wait while a crack is in the hand.
  for (const key of ['Delete', 'n', 'Control+z', '.', ' ']) await page.keyboard.press(key);
  assert.ok(!(await state(page)).playing && (await page.isHidden('#notice')));
  await page.keyboard.press('Escape');
  await page.mouse.move(x + 90, y);
  await page.mouse.up();
  assert.ok(before.equals(await fileOf(page, 'frames')));
  assert.deepEqual((await state(page)).loop, loop);
  await drag(page, x, y, 30, { drop: false });
  await page.mouse.move(x, y);
  await page.mouse.up();
  assert.ok(before.equals(await fileOf(page, 'frames')));
  // What had been undone can still be done again.
  assert.ok(await page.isDisabled('#undo'));
  await page.click('#redo');
  assert.equal((await eventsOf(page)).filter(({ kind }) => kind === 'crack').length, 2);
  assert.deepEqual(page.complaints, []);
});

test('a storm that takes long to cue is cued when a dragged crack is let go, and not on the way', async () => {
  const page = await openBench(base);
  const before = await fileOf(page, 'frames');
  await page.evaluate(() => {
    const { now } = performance;
    performance.now = () => 1000 * now.call(performance); // everything takes long now
  });
  await slide(page, 'setting-flood-share', 0.9);
  await slide(page, 'setting-flood-share', 1);
  const strips = () => page.evaluate(() => document.querySelector('[data-lane="strips"] canvas').toDataURL());
  await page.waitForTimeout(100);
  const drawn = await strips();
  const { x, y, second, crack } = await markOf(page, 1);
  await drag(page, x, y, 70, { drop: false });
  assert.equal(await strips(), drawn);
  assert.match(await page.textContent('#tip'), /^crack at 0:0/);
  await page.mouse.up();
  assert.notEqual(await strips(), drawn);
  assert.ok(Math.abs((await markOf(page, 1)).crack.start_s - crack.start_s - 70 / second) < 1 / second);
  await page.click('#undo');
  await drag(page, x, y, 70, { drop: false });
  await page.keyboard.press('Escape');
  await page.mouse.up();
  assert.ok(before.equals(await fileOf(page, 'frames')));
  assert.deepEqual(page.complaints, []);
});

test('a crack dragged to and fro across the playhead makes no flashes in the still picture', async () => {
  const page = await openBench(base);
  await seek(page, 5.2);
  const { mean } = await measure(page);
  const { x, y, second, crack } = await markOf(page, 1);
  await drag(page, x, y, (5.19 - crack.start_s) * second, { drop: false });
  assert.equal((await measure(page)).mean, mean);
  await page.mouse.up();
  assert.ok((await measure(page)).mean > mean, 'the picture shows the crack where it was dropped');
});

test('a finger that moves the page or the view moves no crack, and one that taps a crack first does', async () => {
  const page = await openBench(base, { width: 360, height: 740, hasTouch: true, isMobile: true });
  const finger = await page.context().newCDPSession(page);
  const touch = (type, ...points) => finger.send('Input.dispatchTouchEvent', { type, touchPoints: points.map(([x, y], id) => ({ x, y, id })) });
  const stroke = async (x, y, by, end = 'touchEnd') => {
    await touch('touchStart', [x, y]);
    for (let k = 1; k <= 8; k++) await touch('touchMove', [x + (by * k) / 8, y + k / 4]);
    if (end) await touch(end);
  };
  const before = await fileOf(page, 'events');
  for (let k = 0; k < 2; k++) await page.tap('#zoom-in');
  await seek(page, 4.2);
  await page.evaluate(() => document.getElementById('lanes').scrollIntoView());
  // Not in hand: the view moves.
  const first = await markOf(page, 1);
  const { view } = await state(page);
  await stroke(first.x, first.y, 40);
  assert.ok((await state(page)).view.from < view.from);
  assert.ok(before.equals(await fileOf(page, 'events')));
  // Tapped: the finger takes it. Up and down it still scrolls the page.
  const tapped = await markOf(page, 1);
  await page.touchscreen.tap(tapped.x, tapped.y);
  assert.ok(await page.isVisible('#in-hand'));
  const scrolled = () => page.evaluate(() => window.scrollY);
  for (const across of [0.5, 7]) {
    const { x, y } = await markOf(page, 1);
    const from = await scrolled();
    await touch('touchStart', [x, y]);
    for (let k = 1; k <= 10; k++) await touch('touchMove', [x + across * k, y - 12 * k]);
    await touch('touchEnd');
    await page.waitForFunction((then) => window.scrollY > then + 50, from);
    assert.ok(before.equals(await fileOf(page, 'events')));
    assert.equal(await undoSteps(page), 0);
    await page.evaluate(() => document.getElementById('lanes').scrollIntoView());
  }
  const there = await markOf(page, 1);
  await stroke(there.x, there.y, 48);
  const moved = (await markOf(page, 1)).crack.start_s - there.crack.start_s;
  assert.ok(Math.abs(moved - 48 / there.second) < 1 / there.second, `moved by ${moved} s`);
  await page.screenshot({ path: path.join(shots, 'carry-360.png') });
  // A touch that the system takes away, or a second finger, puts it back.
  const after = await fileOf(page, 'events');
  const again = await markOf(page, 1);
  await stroke(again.x, again.y, -48, 'touchCancel');
  assert.ok(after.equals(await fileOf(page, 'events')));
  await stroke(again.x, again.y, -48, null);
  await touch('touchStart', [again.x - 48, again.y], [again.x + 60, again.y]);
  await touch('touchEnd');
  assert.ok(after.equals(await fileOf(page, 'events')));
  assert.equal(await undoSteps(page), 1);
  assert.deepEqual(page.complaints, []);
});

test('a page for looking only has no cracks to drag', async () => {
  const closed = path.join(work, 'closed.preview.html');
  writeFileSync(closed, readFileSync(base, 'utf8').replace(/(id="core-data">)[^<]*/, '$1\n'));
  const page = await open(closed);
  await page.waitForSelector('#bench-closed:visible');
  const box = await eventsLane(page);
  await drag(page, box.x + (1.5 / 9) * box.width, box.y + 20, 60);
  assert.ok((await state(page)).loop);
  assert.ok(await page.isHidden('#hint-carry'));
  assert.deepEqual(page.complaints, []);
});

await runTests();
