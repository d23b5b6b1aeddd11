// The page's files beside the program's: the same bytes for the same events, settings and rig.
import assert from 'node:assert/strict';
import { spawnSync } from 'node:child_process';
import { mkdirSync, readFileSync, writeFileSync } from 'node:fs';
import path from 'node:path';

// A rig file's text as the program writes it.
export function asProgramWrites(program, folder, text) {
  const file = path.join(folder, 'as-written.rig');
  writeFileSync(file, text);
  const done = spawnSync(program, ['rig', file, '--format', 'rig'], { encoding: 'utf8' });
  assert.equal(done.status, 0, `${done.stderr}\n${text}`);
  return done.stdout;
}

// `fileOf(what)` gives the page's bytes of a file.
export async function assertSameShow(program, folder, recording, fileOf, step) {
  const saved = path.join(folder, 'saved');
  mkdirSync(saved, { recursive: true });
  for (const what of ['events', 'settings', 'rig']) writeFileSync(path.join(saved, what), await fileOf(what));
  const out = path.join(folder, 'program');
  const of = (name) => path.join(saved, name);
  const done = spawnSync(program, ['cue', recording, '--out', out, '--force', '--quiet', '--no-preview', '--events', of('events'), '--settings', of('settings'), '--rig', of('rig')],
    { encoding: 'utf8' });
  assert.ok(done.status <= 1, `${step}: ${done.stderr}`);
  const stem = path.basename(recording).replace(/\.[^.]*$/, '');
  for (const what of ['events', 'frames', 'ramps'])
    assert.ok((await fileOf(what)).equals(readFileSync(path.join(out, `${stem}.${what}.csv`))), `${what}.csv differs after ${step}`);
}
