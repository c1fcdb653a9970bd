// usage: node check_html.mjs FILE.html   (run in a folder whose node_modules hold vnu-jar, axe-core and playwright-core)
// Looks at a page with the Nu HTML checker, axe-core and a browser. Exit 0 clean, 1 with any problem, 2 when it could not look.
import { execFile } from 'node:child_process';
import { createRequire } from 'node:module';
import { pathToFileURL } from 'node:url';
import path from 'node:path';
import fs from 'node:fs';
for (const ev of ['uncaughtException', 'unhandledRejection']) {
  process.on(ev, e => { console.error('could not look: ' + (e?.message ?? e).split('\n')[0]); process.exit(2); });
}
const require = createRequire(path.join(process.cwd(), 'x.js'));
const file = path.resolve(process.argv[2]);
const url = pathToFileURL(file).href;
const problems = [];
const jar = path.join(path.dirname(require.resolve('vnu-jar/package.json')), 'build/dist/vnu.jar');
const html = new Promise((done, fail) => execFile('java',
  ['-Xss1m', '-jar', jar, '--exit-zero-always', '--stdout', '--format', 'json', file], { maxBuffer: 64 << 20 },
  (e, out, err) => { try { done(JSON.parse(out).messages); } catch { fail(new Error('vnu: ' + (err || e))); } }));
const { chromium } = require('playwright-core');
const browser = await chromium.launch({
  executablePath: process.env.CHROMIUM ?? '/usr/bin/chromium',
  args: ['--headless', '--no-sandbox', '--disable-gpu', '--no-first-run', '--disable-background-networking', '--disable-component-update', '--disable-sync'],
});
try {
  const axe = fs.readFileSync(require.resolve('axe-core/axe.min.js'), 'utf8');
  // First as anybody opens it, policy and all; then with axe let in; then without scripts.
  for (const [width, bypassCSP, javaScriptEnabled] of [[1280, false, true], [1280, true, true], [390, true, true], [390, false, false]]) {
    const how = `${width}px${javaScriptEnabled ? '' : ' without scripts'}`;
    const context = await browser.newContext({ viewport: { width, height: 900 }, bypassCSP, javaScriptEnabled, serviceWorkers: 'block' });
    await context.route('**/*', r => {
      const u = r.request().url();
      if (u.split('#')[0] === url || /^(data|blob|about):/.test(u)) return r.continue();
      problems.push(`${how}: asks the network for ${u}`);
      return r.abort();
    });
    const page = await context.newPage();
    page.on('console', m => { if (m.type() === 'error') problems.push(`${how}: ${m.text()}`); });
    page.on('pageerror', e => problems.push(`${how}: uncaught ${e.message}`));
    page.on('dialog', d => { problems.push(`${how}: a dialog, ${d.message()}`); d.dismiss(); });
    await page.goto(url, { waitUntil: 'load', timeout: 30000 });
    await page.waitForTimeout(150);
    const wide = await page.evaluate(() => document.documentElement.scrollWidth);
    if (wide > width) problems.push(`${how}: ${wide}px wide`);
    const stepper = page.locator('#stepper');
    if (javaScriptEnabled && await stepper.count()) {
      if (!await stepper.isVisible()) problems.push(`${how}: the stepper does not show: the page's script did not run`);
      const first = await page.locator('#stepper output').textContent();
      await page.getByRole('button', { name: 'Next moment' }).click();
      if (await page.locator('#stepper output').textContent() === first && await page.locator('#moments > details').count() > 1) {
        problems.push(`${how}: the next moment is the same`);
      }
    }
    if (!javaScriptEnabled && await stepper.count() && await stepper.isVisible()) problems.push(`${how}: controls that do nothing`);
    if (bypassCSP) {
      await page.addScriptTag({ content: axe });
      // Closed parts are judged too.
      await page.evaluate(() => document.querySelectorAll('details').forEach(d => { d.open = true; d.hidden = false; }));
      const found = await page.evaluate(() => axe.run(document, { resultTypes: ['violations'] }));
      for (const v of found.violations) problems.push(`${how}: ${v.id} (${v.impact}) ${v.help}: ${v.nodes[0].target.join(' ')}`);
    }
    await context.close();
  }
} finally { await browser.close(); }
for (const m of await html) if (m.type === 'error' || m.type === 'non-document-error') problems.push(`HTML, line ${m.lastLine ?? '?'}: ${m.message}`);
for (const p of problems) console.log(p);
process.exit(problems.length ? 1 : 0);
