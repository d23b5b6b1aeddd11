// A small driver for Firefox through its own door for tests (Marionette): JSON messages, each after its length, over a
// local connection. Enough to open a page and to run scripts in it.
import { spawn } from 'node:child_process';
import { mkdirSync, rmSync, writeFileSync } from 'node:fs';
import net from 'node:net';
import path from 'node:path';

// Keys without a letter, as WebDriver numbers them (W3C WebDriver, 17.4.2).
const KEYS = { PageUp: '\uE00E', PageDown: '\uE00F', ArrowLeft: '\uE012', ArrowUp: '\uE013', ArrowRight: '\uE014', ArrowDown: '\uE015', Escape: '\uE00C' };

export class Firefox {
  static async start(program, folder, port) {
    const profile = path.join(folder, 'profile');
    rmSync(profile, { recursive: true, force: true });
    mkdirSync(profile, { recursive: true });
    writeFileSync(path.join(profile, 'user.js'), `user_pref("marionette.port", ${port});\nuser_pref("media.autoplay.default", 0);\n`
      + 'user_pref("app.update.enabled", false);\nuser_pref("datareporting.policy.dataSubmissionEnabled", false);\n'
      + 'user_pref("network.captive-portal-service.enabled", false);\nuser_pref("network.connectivity-service.enabled", false);\n');
    const firefox = new Firefox();
    firefox.process = spawn(program, ['--headless', '--no-remote', '--marionette', '--profile', profile],
      { stdio: 'ignore', env: { ...process.env, HOME: profile, MOZ_DISABLE_CONTENT_SANDBOX: '1' } });
    for (let tries = 0; ; tries++) {
      try {
        await firefox.#connect(port);
        break;
      } catch (problem) {
        if (tries > 120 || firefox.process.exitCode !== null) throw problem;
        await new Promise((done) => setTimeout(done, 250));
      }
    }
    await firefox.ask('WebDriver:NewSession', {});
    return firefox;
  }

  #connect(port) {
    this.waiting = new Map();
    this.next = 1;
    let left = Buffer.alloc(0);
    return new Promise((ready, fail) => {
      this.socket = net.connect(port, '127.0.0.1');
      this.socket.on('error', fail);
      this.socket.on('data', (bytes) => {
        left = Buffer.concat([left, bytes]);
        for (let colon; (colon = left.indexOf(':')) > 0; ) {
          const size = Number(left.toString('latin1', 0, colon));
          if (left.length < colon + 1 + size) return;
          this.#take(JSON.parse(left.toString('utf8', colon + 1, colon + 1 + size)), ready);
          left = left.subarray(colon + 1 + size);
        }
      });
    });
  }

  #take(message, ready) {
    if (!Array.isArray(message)) return ready(); // the greeting
    const [, id, problem, result] = message;
    const { done, fail } = this.waiting.get(id);
    this.waiting.delete(id);
    if (problem) fail(new Error(`${problem.error}: ${problem.message}`));
    else done(result);
  }

  ask(command, parameters) {
    return new Promise((done, fail) => {
      const id = this.next++;
      this.waiting.set(id, { done, fail });
      const text = JSON.stringify([0, id, command, parameters]);
      this.socket.write(`${Buffer.byteLength(text)}:${text}`);
    });
  }

  open(url) {
    return this.ask('WebDriver:Navigate', { url });
  }

  // Runs the body of a function in the page; what it returns comes back.
  async run(script, ...args) {
    return (await this.ask('WebDriver:ExecuteScript', { script, args, sandbox: null, newSandbox: false })).value;
  }

  async wait(script, milliseconds = 20000) {
    for (const until = Date.now() + milliseconds; Date.now() < until; await new Promise((done) => setTimeout(done, 100)))
      if (await this.run(`return Boolean(${script});`)) return;
    throw new Error(`waited in vain for ${script}`);
  }

  // A real mouse: pressed at one point of the window, let go at another.
  async drag(from, to) {
    await this.#mouse(...this.#dragTo(from, to), { type: 'pointerUp', button: 0 });
  }

  // A key is pressed before the button is let go.
  async dragAndPress(from, to, key) {
    await this.#mouse(...this.#dragTo(from, to));
    await this.press(key);
    await this.#mouse({ type: 'pointerUp', button: 0 });
  }

  #dragTo([x0, y0], [x1, y1]) {
    const move = (x, y) => ({ type: 'pointerMove', duration: 0, origin: 'viewport', x: Math.round(x), y: Math.round(y) });
    return [move(x0, y0), { type: 'pointerDown', button: 0 }, move((x0 + x1) / 2, (y0 + y1) / 2), move(x1, y1)];
  }

  #mouse(...actions) {
    return this.ask('WebDriver:PerformActions', { actions: [{ type: 'pointer', id: 'mouse', parameters: { pointerType: 'mouse' }, actions }] });
  }

  press(key) {
    const value = KEYS[key] || key;
    return this.ask('WebDriver:PerformActions', { actions: [{ type: 'key', id: 'keys', actions: [{ type: 'keyDown', value }, { type: 'keyUp', value }] }] });
  }

  async picture() {
    return Buffer.from((await this.ask('WebDriver:TakeScreenshot', { full: true, hash: false })).value, 'base64');
  }

  stop() {
    this.socket.destroy();
    this.process.kill();
  }
}
