'use strict';
// Steps through the moments and moves the cursor. The page is whole without this; it only hides and shows what is there.
(() => {
  const steps = [...document.querySelectorAll('#moments > details')];
  const desk = document.getElementById('stepper');
  if (!desk || !steps.length) return;
  const at = steps.map(s => Number(s.dataset.at));
  const plots = [...document.querySelectorAll('section:has(#described) figure.plot svg[data-to]')];
  const vitals = (document.getElementById('moments').dataset.vitals || '').split(';').filter(Boolean)
    .map(r => r.split(','));
  const slider = desk.querySelector('input[type=range]');
  const readout = desk.querySelector('output');
  const stage = document.getElementById('stage');
  const later = desk.querySelector('input[type=checkbox]');
  const end = Number(slider.max);
  let now = 0, current = -1, timer = 0;
  const clock = s => (s >= 3600 ? Math.floor(s / 3600) + ':' : '') +
    String(Math.floor(s / 60) % 60).padStart(2, '0') + ':' + String(Math.floor(s) % 60).padStart(2, '0');
  function show(t, open) {
    now = Math.max(0, Math.min(end, t));
    slider.value = now;
    slider.setAttribute('aria-valuetext', clock(now));
    let row = vitals[0];
    for (const r of vitals) { if (Number(r[0]) > now) break; row = r; }
    readout.textContent = clock(now) + (row ? ' · systolic ' + row[1] + ', mean ' + row[2] + ' mmHg · heart rate ' +
      row[3] + ' /min · saturation ' + row[4] + ' %' : '');
    for (const svg of plots) {
      const d = svg.dataset, from = Number(d.from), to = Number(d.to), left = Number(d.left), right = Number(d.right);
      const x = left + Math.max(0, Math.min(1, (now - from) / (to - from || 1))) * (right - left);
      const line = svg.querySelector('.cursor'), curtain = svg.querySelector('.curtain');
      line.setAttribute('x1', x); line.setAttribute('x2', x);
      curtain.setAttribute('x', x + 1); curtain.setAttribute('width', later.checked ? Math.max(0, right - x + 9) : 0);
    }
    let i = -1;
    while (i + 1 < at.length && at[i + 1] <= now + 0.05) i++;
    if (i !== current || open) { current = i; look(i, open); }
  }
  function look(i, open) {
    steps.forEach((s, k) => { if (open) s.open = k === i; s.hidden = later.checked && k > Math.max(i, 0); });
    stage.replaceChildren();
    let rail = null, run = null;
    for (let k = 0; k <= i; k++) {
      rail = steps[k].querySelector('div.rail') || rail;
      run = steps[k].querySelector('figure.run') || run;
    }
    if (rail) stage.append(rail.cloneNode(true));
    if (run) stage.append(run.cloneNode(true));
  }
  const go = k => { k = Math.max(0, Math.min(at.length - 1, k)); show(at[k], true); };
  const stop = () => { clearInterval(timer); timer = 0; play.textContent = 'Play'; };
  const [back, next, play] = desk.querySelectorAll('button');
  back.addEventListener('click', () => { stop(); go(at[current] < now - 0.05 ? current : current - 1); });
  next.addEventListener('click', () => { stop(); go(current + 1); });
  play.addEventListener('click', () => {
    if (timer) return stop();
    play.textContent = 'Pause';
    timer = setInterval(() => {
      show(now + Number(desk.querySelector('select').value) / 5, false);
      if (now >= end) stop();
    }, 200);
  });
  slider.addEventListener('input', () => { stop(); show(Number(slider.value), false); look(current, true); });
  later.addEventListener('change', () => show(now, false) || look(current, false));
  steps.forEach((s, k) => s.querySelector('summary').addEventListener('click', () => { stop(); if (!s.open) { current = k; show(at[k], false); } }));
  desk.hidden = false; stage.hidden = false;
  show(at[0], true);
})();
