// Looks at the preview page in a real browser, as a user would: opened from disk, with nothing else beside it.
//
//   node tests/page/test_page.mjs PROGRAM FOLDER [words...]
//
// What is checked against comes from outside the page: where the tests put the cracks in the sound, the program's
// frames.csv, WCAG 2.2 for contrast (1.4.3), reflow (1.4.10) and flashes (2.3.1).
import assert from 'node:assert/strict';
import { execFileSync, spawnSync } from 'node:child_process';
import { mkdirSync, readFileSync, renameSync, rmSync, statSync, writeFileSync } from 'node:fs';
import path from 'node:path';
import { pathToFileURL } from 'node:url';
import {
  acceptNotice, assertNoSidewaysScroll, base, CRACKS, cue, measure, open, program, readCracks, readFrames,
  runTests, seek, shots, slide, state, storm, test, work,
} from './browser.mjs';
import { writeStorm } from './storm.mjs';

const HOSTILE = `<img src=x onerror=alert(1)> "it's" & </script><script>alert(2)</script> \u202Eemag\u202C `;

test('opens from disk without a complaint, and nothing leaves the page', async () => {
  const page = await open(base);
  await acceptNotice(page);
  await page.waitForTimeout(400);
  assert.deepEqual(page.complaints, []);
  const strange = page.requests.filter((url) => url !== pathToFileURL(base).href && !url.startsWith('blob:') && !url.startsWith('data:'));
  assert.deepEqual(strange, []);
  // And could not: a request to another place is refused by the page's own policy.
  const refused = await page.evaluate(() => fetch('http://127.0.0.1:9/').then(() => false, () => true));
  assert.ok(refused);
  assert.match(readFileSync(base, 'utf8'), /Content-Security-Policy" content="default-src 'none'/);
});

test('flashes nothing before the notice is accepted, then plays with its sound', async () => {
  const page = await open(base);
  await page.waitForTimeout(300);
  assert.equal((await state(page)).playing, false);
  await page.keyboard.press('Space');
  assert.ok(await page.isVisible('#notice'));
  assert.equal((await state(page)).playing, false);
  await page.click('#decline');
  assert.ok(!(await page.isVisible('#notice')));
  await page.click('#play');
  assert.equal((await state(page)).playing, false);
  await page.click('#accept');
  await page.waitForFunction(() => window.thundercue.state().time > 0.8, null, { timeout: 20000 });
  const now = await page.evaluate(() => ({ ...window.thundercue.state(), sound: window.thundercue.soundTime() }));
  assert.ok(now.playing && now.accepted);
  assert.ok(Math.abs(now.sound - now.time) < 0.15, `sound at ${now.sound}, light at ${now.time}`);
  await page.keyboard.press('Space');
  const stopped = await state(page);
  await page.waitForTimeout(200);
  assert.deepEqual([stopped.playing, (await state(page)).time], [false, stopped.time]);
});

test('seeking to a crack shows branches lit over the dark, to silence shows black', async () => {
  const page = await open(base);
  const frames = readFrames(base);
  for (const crack of CRACKS) {
    const row = frames.findLast(([time]) => time <= crack + 0.001);
    const lit = row.slice(1, 13).flatMap((level, i) => (level > 20 ? [i + 1] : []));
    assert.ok(lit.length > 0, `no branch is lit in the light frame of the crack at ${crack} s`);
    await seek(page, row[0]);
    const bright = await measure(page, lit);
    await seek(page, 0.5);
    const dark = await measure(page, lit);
    lit.forEach((number, k) => assert.ok(bright.spots[k] > 20 * dark.spots[k] && bright.spots[k] > 0.1,
      `branch ${number} at ${row[0]} s: ${bright.spots[k]} over ${dark.spots[k]}`));
    assert.ok(bright.mean > 3 * dark.mean);
  }
  await page.uncheck('#show-rig');
  const black = await measure(page);
  assert.ok(black.mean < 0.005 && black.most < 0.02, `silence has ${JSON.stringify(black)}`);
});

test('light is in step with frames.csv, channel by channel', async () => {
  const page = await open(base);
  // Every eleventh light frame, and those around each crack.
  const frames = readFrames(base).filter(([time], k) => k % 11 === 0 || CRACKS.some((crack) => Math.abs(time - crack) < 0.06));
  const shown = await page.evaluate((times) => times.map((time) => {
    window.thundercue.seek(time);
    return Array.from({ length: 16 }, (_, i) => 100 * window.thundercue.level(i + 1));
  }), frames.map(([time]) => time));
  frames.forEach(([time, ...levels], k) => levels.forEach((level, i) =>
    // Along a ramp the level may differ from the frames by a quarter of a percent, and the page's own number is exact.
    assert.ok(Math.abs(shown[k][i] - level) <= 0.3001, `channel ${i + 1} at ${time} s: ${shown[k][i]} for ${level}`)));
  assert.ok(frames.filter((row) => row.slice(1).some((level) => level > 0)).length >= 10);
});

test('the sound in the page has its cracks where the light has them', async () => {
  const page = await open(base);
  const onsets = await page.evaluate(async () => {
    const bytes = Uint8Array.from(atob(document.getElementById('sound-data').textContent), (c) => c.charCodeAt(0));
    const rate = 44100;
    const sound = await new OfflineAudioContext(1, rate, rate).decodeAudioData(bytes.buffer);
    const samples = sound.getChannelData(0);
    const found = [];
    for (let i = 0, quiet = rate; i < samples.length; i++) {
      if (Math.abs(samples[i]) < 0.1) quiet++;
      else {
        if (quiet > rate / 2) found.push(i / rate);
        quiet = 0;
      }
    }
    return { found, length: sound.duration };
  });
  // Within 10 ms: well inside a light frame; MP3 smears an attack by a few milliseconds.
  assert.equal(onsets.found.length, CRACKS.length, JSON.stringify(onsets));
  CRACKS.forEach((crack, k) => assert.ok(Math.abs(onsets.found[k] - crack) < 0.01, JSON.stringify(onsets.found)));
  assert.ok(Math.abs(onsets.length - 9) < 0.1, `the sound is ${onsets.length} s long`);
});

test('every key does what the list of keys says', async () => {
  const page = await open(base);
  const press = async (...keys) => {
    for (const key of keys) await page.keyboard.press(key);
    return state(page);
  };
  const near = (a, b) => assert.ok(Math.abs(a - b) < 1e-6, `${a} is not ${b}`);
  near((await press('ArrowRight')).time, 0.025);
  near((await press('ArrowRight', 'ArrowRight', 'ArrowLeft')).time, 0.05);
  near((await press('Shift+ArrowRight')).time, 1.05);
  const { end } = await press('End');
  near((await state(page)).time, end);
  near((await press('Home')).time, 0);
  // A crack's light frame contains it: it starts at most 25 ms before. One in the very first frame is where we are.
  const cracks = readCracks(base).filter((at) => at >= 0.025);
  assert.ok(CRACKS.every((crack) => cracks.some((at) => Math.abs(at - crack) < 0.03)));
  for (const crack of cracks) {
    const { time } = await press('n');
    assert.ok(time <= crack + 1e-6 && time > crack - 0.025, `N went to ${time} for ${crack}`);
  }
  const { time } = await press('p');
  assert.ok(time <= cracks.at(-2) + 1e-6 && time > cracks.at(-2) - 0.025);
  for (const [key, speed] of [['4', 0.1], ['3', 0.25], ['2', 0.5], ['1', 1]]) assert.equal((await press(key)).speed, speed);
  const { view } = await press('+');
  assert.ok(view.to - view.from < end * 0.51);
  assert.equal((await press('0')).view.to, end);
  await seek(page, 2);
  await press('[');
  await seek(page, 3);
  assert.deepEqual((await press(']')).loop, { from: 2, to: 3 });
  assert.equal((await press('Escape')).loop, null);
  await press('m');
  assert.equal(await page.textContent('#mute'), 'Off');
  await page.keyboard.press('Tab');
  assert.equal(await page.evaluate(() => document.activeElement.className), 'skip');
});

test('slow motion runs at its pace, with the sound in step', async () => {
  const page = await open(base);
  await page.keyboard.press('3');
  await acceptNotice(page);
  await page.waitForFunction(() => window.thundercue.state().time > 0.1, null, { timeout: 20000 });
  const pace = await page.evaluate(async () => {
    const from = [performance.now(), window.thundercue.state().time];
    await new Promise((done) => setTimeout(done, 1600));
    const sound = window.thundercue.soundTime();
    const to = [performance.now(), window.thundercue.state().time];
    return { pace: (to[1] - from[1]) / ((to[0] - from[0]) / 1000), apart: sound - to[1] };
  });
  assert.ok(Math.abs(pace.pace - 0.25) < 0.05, JSON.stringify(pace));
  assert.ok(Math.abs(pace.apart) < 0.1, JSON.stringify(pace));
});

test('clicking a lane goes there, dragging loops a part, and the seam stays dark for a second', async () => {
  const page = await open(base);
  await page.locator('[data-lane="wave"]').scrollIntoViewIfNeeded();
  const box = await page.locator('[data-lane="wave"] canvas').boundingBox();
  const { end } = await state(page);
  const x = (seconds) => box.x + (seconds / end) * box.width;
  await page.mouse.click(x(4), box.y + 20);
  assert.ok(Math.abs((await state(page)).time - 4) < 0.05);
  await page.mouse.move(x(1.4), box.y + 20);
  await page.mouse.down();
  await page.mouse.move(x(1.6), box.y + 24, { steps: 4 });
  await page.mouse.move(x(1.9), box.y + 24, { steps: 4 });
  await page.mouse.up();
  const { loop } = await state(page);
  assert.ok(Math.abs(loop.from - 1.4) < 0.05 && Math.abs(loop.to - 1.9) < 0.05, JSON.stringify(loop));
  await acceptNotice(page);
  // One sample a screen picture, until three rounds of half a second have begun again (the first may have ended before).
  const samples = await page.evaluate(() => new Promise((done) => {
    const seen = [];
    const start = performance.now();
    let rounds = 0;
    const look = () => {
      const { time } = window.thundercue.state();
      if (seen.length && time < seen.at(-1)[1]) rounds++;
      seen.push([performance.now() - start, time]);
      if (rounds < 3 && performance.now() - start < 20000) requestAnimationFrame(look);
      else done(seen);
    };
    look();
  }));
  assert.ok(samples.every(([, time]) => time >= loop.from - 1e-6 && time <= loop.to + 1e-6));
  // From the last picture before a rest to the first after it: never less than the rest itself.
  const rests = [];
  let before = null;
  for (const [clock, time] of samples) {
    if (time >= loop.to - 1e-6) continue;
    if (before && time < before.time) rests.push(clock - before.clock);
    before = { clock, time };
  }
  assert.ok(rests.length >= 2 && rests.every((rest) => rest >= 1000), `rests of ${rests} ms`);
});

test('hovering over a crack shows its numbers', async () => {
  const page = await open(base);
  await page.locator('[data-lane="events"]').scrollIntoViewIfNeeded();
  const box = await page.locator('[data-lane="events"] canvas').boundingBox();
  const { end } = await state(page);
  await page.mouse.move(box.x + (CRACKS[1] / end) * box.width, box.y + 30);
  assert.match(await page.textContent('#tip'), /crack at 0:04\.\d{3}strength [01]\.\d\d, sharpness [01]\.\d\d, -?\d+\.\d dBFS/);
});

test('fits a telephone and a wide screen, and looks its part (screenshots)', async () => {
  for (const [width, height] of [[360, 740], [1024, 768], [1920, 1080]]) {
    const page = await open(base, { width, height });
    await assertNoSidewaysScroll(page);
    for (const id of ['play', 'seek', 'brightness', 'speed', 'mute', 'whole-screen', 'zoom-all', 'lane-stack']) {
      const box = await page.locator(`#${id}`).boundingBox();
      assert.ok(box && box.x >= 0 && box.x + box.width <= width + 0.5, `#${id} lies outside a window of ${width} pixels`);
    }
    await page.screenshot({ path: path.join(shots, `page-${width}.png`), fullPage: true });
    await page.click('#big-play');
    await assertNoSidewaysScroll(page);
    const notice = await page.locator('#notice').boundingBox();
    const stage = await page.locator('#stage').boundingBox();
    assert.ok(notice.height <= stage.height && notice.x >= stage.x);
    await page.screenshot({ path: path.join(shots, `notice-${width}.png`) });
    assert.deepEqual(page.complaints, []);
  }
});

test('a finger taps to seek and moves along the storm', async () => {
  const page = await open(base, { width: 360, height: 740, hasTouch: true, isMobile: true });
  await page.locator('[data-lane="wave"]').scrollIntoViewIfNeeded();
  const box = await page.locator('[data-lane="wave"] canvas').boundingBox();
  const { end } = await state(page);
  await page.touchscreen.tap(box.x + box.width / 2, box.y + 20);
  assert.ok(Math.abs((await state(page)).time - end / 2) < 0.1);
  await page.click('#zoom-in');
  const before = (await state(page)).view;
  const finger = await page.context().newCDPSession(page);
  const touch = (type, x) => finger.send('Input.dispatchTouchEvent', { type, touchPoints: type === 'touchEnd' ? [] : [{ x, y: box.y + 20 }] });
  await touch('touchStart', box.x + 180);
  for (let x = 170; x >= 80; x -= 10) await touch('touchMove', box.x + x);
  await touch('touchEnd');
  const after = (await state(page)).view;
  assert.ok(after.from > before.from + 0.5, `${before.from} to ${after.from}`);
  assert.equal((await state(page)).loop, null);
});

test('starts dimmed, and the brightness slider changes the picture alone', async () => {
  const page = await open(base);
  const row = readFrames(base).findLast(([time]) => time <= CRACKS[0] + 0.001);
  await seek(page, row[0]);
  const dim = await measure(page);
  const total = await page.evaluate(() => window.thundercue.total());
  await page.fill('#brightness', '100');
  const full = await measure(page);
  assert.ok(full.mean > 1.5 * dim.mean, `${full.mean} at full brightness, ${dim.mean} dimmed`);
  assert.equal(await page.evaluate(() => window.thundercue.total()), total);
});

test('less motion asked for: still frames alone, step by step', async () => {
  const page = await open(base, { reducedMotion: 'reduce' });
  assert.ok(await page.isDisabled('#play'));
  assert.match(await page.textContent('#warnings'), /still frames/);
  await page.keyboard.press('Space');
  await page.evaluate(() => window.thundercue.play());
  await page.waitForTimeout(200);
  assert.deepEqual([(await state(page)).playing, (await state(page)).time], [false, 0]);
  await page.keyboard.press('ArrowRight');
  assert.ok(Math.abs((await state(page)).time - 0.025) < 1e-6);
});

test('hostile names do no harm and break no layout', async () => {
  const name = `${HOSTILE.replaceAll('/', '')}${'long '.repeat(20)}`.slice(0, 190);
  const recording = path.join(work, `${name}.wav`);
  writeStorm(recording, { seconds: 3, cracks: [1] });
  const rig = path.join(work, 'hostile.rig');
  writeFileSync(rig, ['[rig]', `name = ${HOSTILE}${'y'.repeat(250)}`, 'mains_volts = 120', 'mains_hz = 60',
    `[circuit <b>&amp;]`, 'breaker_amps = 15',
    '[channel 1]', `name = ${HOSTILE}`, 'kind = branch', 'watts = 5', 'circuit = <b>&amp;',
    '[channel 2]', `name = ${'x'.repeat(300)}`, 'kind = branch', 'parent = 1', 'watts = 5', 'circuit = <b>&amp;',
    '[channel 3]', 'name = \u05D4\u05E6\u05E3 \u05DE\u05E9\u05DE\u05D0\u05DC', 'kind = flood', 'watts = 15', 'circuit = <b>&amp;', ''].join('\n'));
  const made = cue(recording, '--rig', rig);
  for (const width of [360, 1920]) {
    const page = await open(made, { width, height: 900 });
    await page.evaluate(() => document.querySelectorAll('details').forEach((part) => (part.open = true)));
    await page.waitForTimeout(200);
    assert.deepEqual(page.complaints, []);
    await assertNoSidewaysScroll(page);
    assert.equal(await page.locator('img').count(), 0);
    assert.equal(await page.locator('body script').count(), 4);
    assert.ok((await page.textContent('#title')).includes('<img src=x onerror=alert(1)>'));
    const box = await page.locator('.names h1').boundingBox();
    assert.ok(box.height < 80, `the title is ${box.height} pixels tall`);
    await page.screenshot({ path: path.join(shots, `hostile-${width}.png`), fullPage: true });
  }
});

test('a long recording is linked, plays from beside the page, and is missed when it is gone', async () => {
  const recording = storm('linked & long', { seconds: 601, cracks: [2, 300], rate: 8000 });
  const made = cue(recording);
  assert.ok(statSync(made).size < 1e6);
  let page = await open(made);
  await acceptNotice(page);
  await page.waitForFunction(() => window.thundercue.soundTime() > 0.3, null, { timeout: 20000 });
  assert.deepEqual(page.complaints, []);
  renameSync(recording, `${recording}.away`);
  page = await open(made);
  await page.waitForSelector('#warning-sound', { timeout: 20000 });
  assert.match(await page.textContent('#warning-sound'), /linked & long\.wav/);
  await acceptNotice(page);
  await page.waitForFunction(() => window.thundercue.state().time > 0.3, null, { timeout: 20000 });
});

test('a page of two hours is under 3 MB and opens', async () => {
  const cracks = Array.from({ length: 900 }, (_, k) => 4 + 8 * k);
  const recording = storm('two-hours', { seconds: 7200, cracks, rate: 8000 });
  const made = cue(recording);
  const megabytes = statSync(made).size / 1e6;
  assert.ok(megabytes < 3, `${megabytes} MB`);
  // Told and not asserted, as the machine may be busy; a page of nine seconds opened just before is the yardstick.
  let start = Date.now();
  await open(base, { width: 1920, height: 1080 });
  const short = Date.now() - start;
  start = Date.now();
  const page = await open(made, { width: 1920, height: 1080 });
  const took = Date.now() - start;
  await seek(page, 3600 + 4);
  await page.screenshot({ path: path.join(shots, 'two-hours.png'), fullPage: true });
  await page.waitForFunction(() => window.thundercue.state().bench, null, { timeout: 60000 });
  const before = await page.textContent('#facts');
  await slide(page, 'setting-flood-share', 0.3);
  await page.waitForFunction((facts) => document.getElementById('facts').textContent !== facts, before);
  const cued = await page.evaluate(() => window.thundercue.tookMs());
  assert.deepEqual(page.complaints, []);
  rmSync(recording);
  console.log(`# two hours: ${megabytes.toFixed(2)} MB, open in ${took} ms, cued anew in ${Math.round(cued)} ms; a page of nine seconds opens in ${short} ms`);
});

test('a page for looking only says why', async () => {
  const recording = path.join(work, 'storm.wav');
  const out = path.join(work, 'piped');
  execFileSync('sh', ['-c', 'cat samples/backyard.rig | "$0" cue "$1" --out "$2" --quiet --rig /dev/stdin || [ $? = 1 ]', program, recording, out]);
  const page = await open(path.join(out, 'storm.preview.html'));
  await page.waitForSelector('#bench-closed:not([hidden])');
  assert.match(await page.textContent('#bench-closed'), /looking and listening: its rig came from where it can't be read again/);
  // As a program without the WebAssembly tools writes it.
  const plain = path.join(work, 'plain.preview.html');
  writeFileSync(plain, readFileSync(base, 'utf8').replace(/(id="core-data">)[^<]*/, '$1\n'));
  const other = await open(plain);
  await other.waitForSelector('#bench-closed:not([hidden])');
  assert.match(await other.textContent('#bench-closed'), /built without the tools .*make setup-wasm/);
  assert.ok(!(await other.isVisible('#bench')));
  // Half a flash is explained; a whole number needs no words.
  assert.ok(!/counts half/.test(await other.textContent('#facts')));
  writeFileSync(plain, readFileSync(plain, 'utf8').replace(/"peak_count":[0-9.]+/, '"peak_count":2.5'));
  await other.reload();
  await other.waitForFunction(() => window.thundercue);
  assert.match(await other.textContent('#facts'), /flashes at most in one second2\.5at .*, limit 3; a flash that only starts or only ends in it counts half/);
  assert.match(await other.textContent('#notice-limit'), /at most 3 flashes/);
  assert.deepEqual([...page.complaints, ...other.complaints], []);
});

test('a timeline without flash limit says so, and late sound starts late', async () => {
  const made = cue(storm('far', { seconds: 6, cracks: [1, 3] }), '--flash-limit', 'off', '--distance', '343.2', '--shift', '60');
  const page = await open(made);
  assert.match(await page.textContent('#warnings'), /flash limit was switched off/);
  // 343.2 m at 20 degrees is one second of sound (331.3 m/s times the root of 1 + T / 273.15).
  assert.match(await page.textContent('#warning-offset'), /1\.00 s after/);
  assert.match(await page.textContent('#now'), /^1:00\.000$/);
  await seek(page, 0.5);
  await acceptNotice(page);
  await page.waitForFunction(() => window.thundercue.state().time > 1.5, null, { timeout: 20000 });
  const now = await page.evaluate(() => ({ light: window.thundercue.state().time, sound: window.thundercue.soundTime() }));
  assert.ok(Math.abs(now.light - now.sound - 1) < 0.15, JSON.stringify(now));
});

test('before the notice is accepted, neither slider nor held key makes pictures come quickly', async () => {
  const page = await open(base);
  const pictures = await page.evaluate(async () => {
    const times = new Set();
    const slider = document.getElementById('seek');
    const start = performance.now();
    while (performance.now() - start < 1000) {
      slider.value = String(9 * Math.random());
      slider.dispatchEvent(new Event('input'));
      document.dispatchEvent(new KeyboardEvent('keydown', { key: 'n', repeat: true, bubbles: true }));
      times.add(window.thundercue.state().time);
      await new Promise((done) => setTimeout(done, 20));
    }
    return times.size;
  });
  // WCAG 2.2, 2.3.1: three flashes a second, so at most six changes; slider and key together stay within that.
  assert.ok(pictures <= 7, `${pictures} pictures in a second`);
});

test('tells what to know at a glance, and the command that makes it again', async () => {
  const page = await open(base);
  const facts = (await page.textContent('#facts')).replace(/\s+/g, ' ');
  assert.match(facts, new RegExp(`cracks?${readCracks(base).length}`));
  assert.match(facts, /limit 3/);
  await page.click('#made summary');
  const command = await page.textContent('#command');
  assert.match(command, /^thundercue cue .*storm\.wav --seed 7$/);
  assert.match(await page.textContent('#settings'), /Draw number7/);
  // Made again by that very command, the page is the same, byte for byte.
  const again = path.join(work, 'again');
  execFileSync('sh', ['-c', `${command.replace(/^thundercue/, `'${program}'`)} --out '${again}' --quiet --force || [ $? = 1 ]`]);
  assert.ok(readFileSync(base).equals(readFileSync(path.join(again, path.basename(base)))));
});

test('text stands out from its ground by 4.5 to 1 (WCAG 2.2, 1.4.3)', async () => {
  const page = await open(base);
  const low = await page.evaluate(() => {
    const numbers = (colour) => colour.match(/[\d.]+/g).map(Number);
    const linear = (v) => (v <= 0.04045 * 255 ? v / 255 / 12.92 : ((v / 255 + 0.055) / 1.055) ** 2.4);
    const light = ([r, g, b]) => 0.2126 * linear(r) + 0.7152 * linear(g) + 0.0722 * linear(b);
    const bad = [];
    document.querySelectorAll('details').forEach((part) => (part.open = true));
    for (const part of document.querySelectorAll('body *')) {
      const own = [...part.childNodes].some((node) => node.nodeType === 3 && node.textContent.trim());
      if (!own || !part.checkVisibility() || part.closest('script, :disabled, .caption')) continue;
      let ground = part;
      while (ground && (numbers(getComputedStyle(ground).backgroundColor)[3] ?? 1) < 0.8) ground = ground.parentElement;
      const [a, b] = [light(numbers(getComputedStyle(part).color)), light(numbers(getComputedStyle(ground || document.documentElement).backgroundColor))];
      const ratio = (Math.max(a, b) + 0.05) / (Math.min(a, b) + 0.05);
      if (ratio < 4.5) bad.push(`${part.tagName}.${part.className} ${part.textContent.slice(0, 30)}: ${ratio.toFixed(2)}`);
    }
    return bad;
  });
  assert.deepEqual(low, []);
});

test('every control has a name, and what changes is announced', async () => {
  const page = await open(base);
  const nameless = await page.evaluate(() => [...document.querySelectorAll('button, input, summary')]
    .filter((part) => !(part.getAttribute('aria-label') || part.textContent.trim() || (part.labels && part.labels[0]?.textContent.trim())))
    .map((part) => part.outerHTML));
  assert.deepEqual(nameless, []);
  await page.keyboard.press('n');
  assert.match(await page.textContent('#say[aria-live]'), /^Crack \d+ of \d+, 0:01\.\d{3}$/);
});

test('prints on paper: no controls, dark ink on white', async () => {
  const page = await open(base);
  await page.emulateMedia({ media: 'print' });
  assert.ok(!(await page.isVisible('.transport')) && !(await page.isVisible('#big-play')) && await page.isVisible('#facts'));
  assert.equal(await page.evaluate(() => getComputedStyle(document.documentElement).backgroundColor), 'rgb(255, 255, 255)');
  const pdf = await page.pdf({ path: path.join(shots, 'print.pdf'), format: 'A4' });
  assert.ok(pdf.length > 20000);
});

// ---- an evening ----

function evening(name, ...more) {
  const clips = path.join(work, 'clips');
  mkdirSync(clips, { recursive: true });
  for (const k of [1, 2, 3]) renameSync(storm(`clip${k}`, { seconds: 4 + k, cracks: [1 + 0.5 * k] }), path.join(clips, k === 2 ? `${HOSTILE.replaceAll('/', '')}.wav` : `clip${k}.wav`));
  const out = path.join(work, name);
  const done = spawnSync(program, ['night', clips, '--gap', '5..20', '--out', out, '--force', '--quiet', ...more], { encoding: 'utf8' });
  assert.ok(done.status === 0 || done.status === 1, `night ended with ${done.status}: ${done.stderr}`);
  return `${out}.preview.html`;
}

// [start, end] of each row of the running order.
function readOrder(page) {
  const rows = readFileSync(page.replace(/preview\.html$/, 'night.csv'), 'utf8').trim().split('\r\n').slice(1);
  return rows.map((row) => row.split(',').slice(0, 2).map(Number));
}

test('an evening begins with its time line, and its lists tell the running order', async () => {
  const file = evening('mill-pond', '--start', '23:55', '--end', '0:03', '--quiet-hours', '23:58..23:59');
  const order = readOrder(file);
  for (const width of [1360, 390]) {
    const page = await open(file, { width });
    assert.ok(await page.isVisible('#evening'));
    assert.equal(await page.locator('#evening .glance').count(), width > 640 ? 1 : 0); // on a phone the picture comes before the numbers
    assert.match(await page.textContent('#bench-closed'), /running order/);
    assert.deepEqual(page.complaints, []);
    await assertNoSidewaysScroll(page);
    // Every clip has a bar (two where it goes on in the next row), as far from the row's left edge as it starts late.
    const bars = await page.$$eval('.turn', (all) => all.map((bar) => {
      const lane = bar.parentNode.getBoundingClientRect(), box = bar.getBoundingClientRect();
      return [[...document.querySelectorAll('.hour-lane')].indexOf(bar.parentNode), (box.left - lane.left) / lane.width];
    }));
    for (const [start] of order) {
      const minute = start / 60;
      assert.ok(bars.some(([row, share]) => Math.abs(row + share - minute) < 0.02), `no bar at ${start} s`);
    }
    assert.ok(bars.length >= order.length && bars.length <= order.length + 8);
    assert.match(await page.textContent('#evening-words'), /From 23:55:00 to 00:0\d:\d\d.*No thunder from 23:58:00 to 23:59:00/);
    await page.click('#order-list summary');
    await page.waitForSelector('#order-rows tr');
    assert.equal(await page.locator('#order-rows tr').count(), order.length);
    await page.locator('#order-rows tr').nth(2).locator('button').click();
    assert.ok(Math.abs((await state(page)).time - order[2][0]) < 0.001);
    await page.click('#storm-list summary');
    await assertNoSidewaysScroll(page); // long names scroll within their lists
    await page.screenshot({ path: path.join(shots, `evening-${width}.png`), fullPage: true });
  }
});

test('an evening plays with the sound beside it', async () => {
  const page = await open(evening('beside', '--length', '0:02:00'));
  await acceptNotice(page);
  await page.waitForFunction(() => window.thundercue.state().time > 0.8, null, { timeout: 20000 });
  const now = await page.evaluate(() => ({ ...window.thundercue.state(), sound: window.thundercue.soundTime() }));
  assert.ok(now.sound !== null && Math.abs(now.sound - now.time) < 0.15, `sound at ${now.sound}, light at ${now.time}`);
  assert.deepEqual(page.complaints, []);
});

await runTests();
