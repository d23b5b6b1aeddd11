// Takes the README's picture of a preview page: node tests/page/picture.mjs FOLDER PAGE.html PICTURE.png
// FOLDER holds node_modules with playwright-core.
import { createRequire } from 'node:module';
import path from 'node:path';
import { pathToFileURL } from 'node:url';

const [folder, file, picture] = process.argv.slice(2).map((name) => path.resolve(name));
const { chromium } = createRequire(path.join(folder, 'x.js'))('playwright-core');
const browser = await chromium.launch({ executablePath: process.env.CHROMIUM || '/usr/bin/chromium',
  args: ['--no-sandbox', '--disable-gpu', '--disable-background-networking', '--disable-component-update', '--disable-sync'] });
const page = await browser.newPage({ viewport: { width: 1360, height: 900 } });
await page.goto(pathToFileURL(file).href);
await page.waitForFunction(() => window.thundercue);
// The still picture of the brightest stroke, as reached by seeking there.
await page.evaluate(() => window.thundercue.seek(window.thundercue.state().poster || 0));
await page.addStyleTag({ content: '.papers, footer, .hint { display: none; }' });
await page.waitForTimeout(300);
await page.screenshot({ path: picture, fullPage: true });
await browser.close();
