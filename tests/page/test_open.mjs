// The page without a storm in a real browser: recordings are opened, heard as the program hears them, switched and saved.
//
//   node tests/page/test_open.mjs PROGRAM FOLDER [words...]
import assert from 'node:assert/strict';
import { execFileSync } from 'node:child_process';
import { mkdirSync, readFileSync, writeFileSync } from 'node:fs';
import path from 'node:path';
import {
  acceptNotice, assertNoSidewaysScroll, base, benchOpens, browser, cue, eventsOf, fileOf, open, openBench, openEmpty, program, runTests, shots, slide, state, storm, test, work,
} from './browser.mjs';
import { writeStorm } from './storm.mjs';

test('the page without a storm hears a recording as the program does, and asks for nothing', async () => {
  const flac = path.resolve('samples/mill-pond.flac');
  const wide = storm('stereo', { seconds: 7, cracks: [1, 4], rate: 48000, channels: 2 });
  for (const [recording, rig] of [[flac, null], [flac, 'samples/three-bolts.rig'], [path.join(work, 'storm.wav'), 'samples/backyard.rig'], [wide, null]]) {
    const page = await openEmpty();
    const start = Date.now();
    await page.setInputFiles('#open-files', [...(rig ? [rig] : []), recording]);
    await benchOpens(page);
    const took = Date.now() - start;
    const made = cue(recording, ...(rig ? ['--rig', rig] : []));
    for (const what of ['events', 'frames', 'ramps'])
      assert.ok((await fileOf(page, what)).equals(readFileSync(made.replace('preview.html', `${what}.csv`))), `${what}.csv of ${recording} differs`);
    if (rig) assert.ok((await fileOf(page, 'rig')).equals(readFileSync(rig)));
    assert.deepEqual(page.requests.filter((url) => !/^(file|blob|data):/.test(url)), []);
    await slide(page, 'setting-sensitivity', 70);
    const saved = path.join(work, 'heard.preview.html');
    writeFileSync(saved, await fileOf(page, 'page'));
    const again = await openBench(saved);
    assert.ok((await fileOf(again, 'frames')).equals(await fileOf(page, 'frames')));
    await acceptNotice(again);
    await again.waitForFunction(() => window.thundercue.soundTime() > 0.2, null, { timeout: 20000 });
    assert.deepEqual([...page.complaints, ...again.complaints], []);
    if (recording === flac && !rig) console.log(`# 33 s of FLAC opened in the page in ${took} ms`);
    await again.context().close();
    await page.context().close();
  }
});

test('the page without a storm says what it cannot read, and takes an events file', async () => {
  const page = await openEmpty();
  const noise = path.join(work, '<img src=x onerror=alert(1)>.ogg');
  writeFileSync(noise, 'no sound at all');
  await page.setInputFiles('#open-files', noise);
  await page.waitForSelector('[data-state="failed"]');
  assert.match(await page.textContent('#shelf-list'), /<img src=x onerror=alert\(1\)>\.ogg.*this browser can't read it as sound: the file is damaged, or not really OGG/);
  assert.equal(await page.locator('img').count(), 0);
  const rig = path.join(work, 'wrong.rig');
  writeFileSync(rig, '[channel 1]\nname = a\nkind = lamp\n');
  await page.setInputFiles('#open-files', [rig]);
  await page.waitForFunction(() => /^wrong\.rig:3: .*left out/.test(document.getElementById('open-problem').textContent));
  // A timeline is no events file.
  await page.setInputFiles('#open-files', [base.replace('preview.html', 'frames.csv')]);
  await page.waitForFunction(() => /^storm\.frames\.csv:1: .*left out/.test(document.getElementById('open-problem').textContent));
  // Each of several gets its line, and a saved page is told from a recording.
  const settings = path.join(work, 'wrong.settings');
  writeFileSync(settings, 'sensitivty = 60\n');
  await page.setInputFiles('#open-files', [rig, settings, base]);
  await page.waitForFunction(() => document.querySelectorAll('[data-state="failed"]').length === 2);
  assert.deepEqual(await page.$$eval('#open-problem span', (lines) => lines.map((line) => line.textContent)), [
    "wrong.rig:3: channel 1: kind 'lamp' is not branch or flood. It is left out.", 'wrong.settings:1: sensitivty: there is no such setting; did you mean sensitivity? It is left out.']);
  assert.match(await page.textContent('#shelf-list'), /it is a page: open it in the browser by itself/);
  assert.equal(await page.textContent('#shelf-head'), "2 files that can't be read");
  const events = path.join(work, 'mine.csv');
  writeFileSync(events, 'kind,start_s,strength\ncrack,2.5,0.9\ncrack,5,1\n');
  await page.setInputFiles('#open-files', ['samples/backyard.rig', events, path.join(work, 'storm.wav')]);
  await benchOpens(page);
  assert.deepEqual((await eventsOf(page)).map((event) => event.start_s), [2.5, 5]);
  assert.match(await page.textContent('[data-state="ready"]'), /as its events file has it/);
  assert.equal(await page.textContent('#shelf-head'), "1 recording, 2 files that can't be read");
  // Each line stands in one row.
  assert.ok(await page.$$eval('.shelf-row', (rows) => rows.every((row) => row.getBoundingClientRect().height < 60)));
  const made = cue(path.join(work, 'storm.wav'), '--rig', 'samples/backyard.rig', '--events', events);
  assert.ok((await fileOf(page, 'frames')).equals(readFileSync(made.replace('preview.html', 'frames.csv'))));
});

// The lines of the list: [[name, state, words of the state]].
const shelfOf = (page) => page.$$eval('.shelf-row', (rows) => rows.map((row) => [row.querySelector('.shelf-name').textContent, row.dataset.state,
  row.querySelector('.shelf-state').textContent]));
const heardAll = (page, count) => page.waitForFunction((n) => document.querySelectorAll('[data-state="ready"], [data-state="failed"]').length === n
  && window.thundercue?.state().bench, count, { timeout: 60000 });
const chooseRow = async (page, name) => {
  await page.click(`.shelf-row:has-text("${name}") .shelf-name`);
  await page.waitForSelector(`.shelf-row:has-text("${name}") [aria-current="true"]`);
  await benchOpens(page);
};

test('several recordings: one list, each with its own edits, a bad one is a line, all in one zip', async () => {
  const page = await openEmpty();
  const other = path.join(work, 'other');
  mkdirSync(other, { recursive: true });
  writeStorm(path.join(other, 'storm.wav'), { seconds: 5, cracks: [2] });
  writeStorm(path.join(work, 'mill-pond.wav'), { seconds: 6, cracks: [1, 3.5], rate: 32000 });
  const bad = path.join(work, 'not a sound.mp3');
  writeFileSync(bad, 'no sound at all');
  const recordings = [path.resolve('samples/mill-pond.flac'), bad, path.join(work, 'storm.wav'), path.join(other, 'storm.wav'), path.join(work, 'mill-pond.wav')];
  await page.setInputFiles('#open-files', ['samples/backyard.rig', ...recordings]);
  await heardAll(page, 5);
  const rows = await shelfOf(page);
  assert.deepEqual(rows.map(([name]) => name), ['mill-pond.flac', 'not a sound.mp3', 'storm.wav', 'storm.wav (2)', 'mill-pond.wav']);
  assert.match(rows[1][2], /can't read it as sound: .* not really MP3/);
  assert.ok(await page.isDisabled('.shelf-row:nth-child(2) .shelf-name'));
  // An edit in the first, another in the last; each is there when its recording comes back.
  const first = await fileOf(page, 'frames');
  await page.keyboard.press('n');
  await page.keyboard.press('Delete');
  const deleted = await fileOf(page, 'frames');
  assert.ok(!deleted.equals(first));
  await chooseRow(page, 'mill-pond.wav');
  assert.equal(await page.textContent('#title'), 'mill-pond.wav');
  await slide(page, 'setting-strength', 0.5);
  const dimmer = await fileOf(page, 'settings');
  await chooseRow(page, 'mill-pond.flac');
  assert.ok((await fileOf(page, 'frames')).equals(deleted));
  assert.equal(await page.inputValue('#setting-strength'), '1');
  assert.deepEqual((await shelfOf(page)).map(([, state, words]) => (state === 'failed' ? state : words)), ['changed', 'failed', 'as heard', 'as heard', 'changed']);
  const [download] = await Promise.all([page.waitForEvent('download'), page.click('#shelf-save')]);
  const zip = path.join(work, 'several.zip');
  await download.saveAs(zip);
  const folder = path.join(work, 'several');
  execFileSync('python3', ['-c', 'import sys,zipfile\nz=zipfile.ZipFile(sys.argv[1])\nassert z.testzip() is None\nn=z.namelist()\nassert len(n)==len(set(n))==24,n\nz.extractall(sys.argv[2])', zip, folder]);
  // What was not touched is what the program makes of it, under the names that a folder's recordings get.
  for (const [recording, stem] of [[recordings[2], 'storm.wav'], [recordings[3], 'storm.wav (2)']]) {
    const made = cue(recording, '--rig', 'samples/backyard.rig');
    for (const what of ['events', 'frames', 'ramps'])
      assert.ok(readFileSync(path.join(folder, `${stem}.${what}.csv`)).equals(readFileSync(made.replace('preview.html', `${what}.csv`))), `${stem}.${what}.csv`);
  }
  assert.ok(readFileSync(path.join(folder, 'mill-pond.flac.frames.csv')).equals(deleted));
  assert.ok(readFileSync(path.join(folder, 'mill-pond.wav.settings')).equals(dimmer));
  assert.deepEqual((await shelfOf(page)).map(([, , words]) => words).filter((words) => words.startsWith('changed')), ['changed, saved', 'changed, saved']);
  // The notice that was read holds for the next recording too, but not where its flash limit is off.
  for (const id of ['play', 'accept', 'play']) await page.click(`#${id}`);
  await chooseRow(page, 'storm.wav');
  assert.deepEqual([(await state(page)).accepted, (await state(page)).playing], [true, false]);
  await page.evaluate(() => (document.getElementById('more-settings').open = true));
  await page.selectOption('#setting-flash-limit', 'off');
  await chooseRow(page, 'mill-pond.wav');
  await chooseRow(page, 'storm.wav');
  assert.equal((await state(page)).accepted, false);
  await page.selectOption('#setting-flash-limit', '3');
  await chooseRow(page, 'mill-pond.flac');
  // The open one is still the one that the core has.
  assert.ok((await fileOf(page, 'frames')).equals(deleted));
  const again = await openBench(path.join(folder, 'mill-pond.wav.preview.html'));
  assert.equal(await again.inputValue('#setting-strength'), '0.5');
  for (const [width, height] of [[360, 740], [1024, 768], [1920, 1080]]) {
    await page.setViewportSize({ width, height });
    await page.waitForTimeout(200);
    await assertNoSidewaysScroll(page);
    await page.evaluate(() => window.scrollTo(0, 0));
    await page.screenshot({ path: path.join(shots, `several-${width}.png`) });
  }
  // Removing goes through the list and ends where the page began.
  for (let left = 5; left; left--) {
    const remove = page.locator('.shelf-row:first-child .shelf-remove');
    await remove.click();
    const sure = page.locator('[data-sure]');
    if (await sure.count()) await sure.click();
    await page.waitForFunction((n) => document.querySelectorAll('.shelf-row').length === n, left - 1);
  }
  assert.ok(await page.isVisible('#opener'));
  assert.ok(!(await page.isVisible('main')));
  assert.deepEqual(page.complaints, []);
});

test('a rig, settings or events file that comes later is taken by the storms that are open', async () => {
  const page = await openEmpty();
  const recording = path.join(work, 'storm.wav');
  await page.setInputFiles('#open-files', recording);
  await benchOpens(page);
  await page.setInputFiles('#open-files', 'samples/three-bolts.rig');
  await page.waitForFunction(() => /three-bolts\.rig/.test(document.getElementById('open-list').textContent));
  await page.waitForFunction(() => document.querySelectorAll('.strip-label').length > 20);
  await benchOpens(page);
  const settings = path.join(work, 'later.settings');
  writeFileSync(settings, '# darker\nflood-share: 0.25\n; any\nseed = 9\nsensitivity = 50\n');
  await page.setInputFiles('#open-files', settings);
  await page.waitForFunction(() => document.getElementById('setting-flood-share')?.value === '0.25');
  const events = path.join(work, 'storm.events.csv');
  writeFileSync(events, 'kind,start_s,strength\ncrack,2.5,0.9\ncrack,5,1\n');
  await page.setInputFiles('#open-files', events);
  await page.waitForFunction(() => window.thundercue?.events().length === 2);
  await benchOpens(page);
  const made = cue(recording, '--rig', 'samples/three-bolts.rig', '--settings', settings, '--events', events);
  for (const what of ['frames', 'ramps'])
    assert.ok((await fileOf(page, what)).equals(readFileSync(made.replace('preview.html', `${what}.csv`))), `${what}.csv differs`);
  assert.deepEqual(page.complaints, []);
});

test('a folder is dropped, and more recordings are chosen later', async () => {
  const page = await openEmpty();
  const folder = path.join(work, 'dropped');
  mkdirSync(path.join(folder, 'below'), { recursive: true });
  writeStorm(path.join(folder, 'b.wav'), { seconds: 4, cracks: [1] });
  writeStorm(path.join(folder, 'below', 'a.wav'), { seconds: 3, cracks: [1] });
  writeStorm(path.join(folder, '.hidden.wav'), { seconds: 3, cracks: [1] });
  writeFileSync(path.join(folder, 'yard.rig'), readFileSync('samples/backyard.rig'));
  for (const other of ['b.frames.csv', 'notes.txt', 'b.preview.html']) writeFileSync(path.join(folder, other), 'time_s\n');
  const hand = await page.context().newCDPSession(page);
  for (const type of ['dragEnter', 'dragOver', 'drop'])
    await hand.send('Input.dispatchDragEvent', { type, x: 200, y: 300, data: { items: [], files: [folder], dragOperationsMask: 1 } });
  await heardAll(page, 2);
  assert.deepEqual((await shelfOf(page)).map(([name]) => name), ['b.wav', 'a.wav']);
  assert.match(await page.textContent('#open-list'), /Rig: yard\.rig/);
  assert.equal(await page.locator('.strip-label').count(), 4);
  // By the button too, which needs no mouse.
  const other = await openEmpty();
  const [picker] = await Promise.all([other.waitForEvent('filechooser'), other.press('#open-folder', 'Enter')]);
  await picker.setFiles(folder);
  await heardAll(other, 2);
  assert.deepEqual(other.complaints, []);
  const [chooser] = await Promise.all([page.waitForEvent('filechooser'), page.click('#shelf-add')]);
  assert.ok(chooser.isMultiple());
  await chooser.setFiles(path.join(work, 'storm.wav'));
  await heardAll(page, 3);
  assert.equal(await page.textContent('#title'), 'b');
  assert.deepEqual(page.complaints, []);
});

test('a recording is cancelled while it waits or is being heard', async () => {
  const page = await openEmpty();
  const long = storm('longer', { seconds: 240, cracks: [1, 60, 120], rate: 48000, channels: 2 });
  await page.setInputFiles('#open-files', [long, path.join(work, 'storm.wav')]);
  await page.waitForSelector('.shelf-row:nth-child(2)[data-state="waiting"]');
  await page.click('.shelf-row:nth-child(2) .shelf-remove');
  await page.waitForSelector('.shelf-row[data-state="listening"]');
  assert.match((await shelfOf(page))[0][2], /^listening, \d+ %$/);
  await page.click('.shelf-remove');
  await page.waitForFunction(() => !document.querySelector('.shelf-row'));
  await page.setInputFiles('#open-files', path.join(work, 'storm.wav'));
  await benchOpens(page);
  assert.equal(await page.textContent('#title'), 'storm');
  assert.deepEqual(page.complaints, []);
});

test('the page without a storm fits a telephone and a wide screen (screenshots)', async () => {
  for (const [width, height] of [[360, 740], [1920, 1080]]) {
    const page = await openEmpty({ viewport: { width, height } });
    await assertNoSidewaysScroll(page);
    await page.screenshot({ path: path.join(shots, `open-${width}.png`) });
  }
});

await runTests();
