// What a page can do better with a script: nothing here is needed to do the work.
'use strict';

(() => {
  const live = document.getElementById('live');

  // The part of the page that tells how far a plan is, read anew.
  let asking = false;
  let again = false;
  async function refresh() {
    if (asking) {
      again = true;
      return;
    }
    asking = true;
    try {
      const answer = await fetch(location.href, { headers: { Accept: 'text/html' } });
      const page = new DOMParser().parseFromString(await answer.text(), 'text/html');
      const fresh = page.getElementById('live');
      if (!answer.ok || !fresh) {
        location.reload();
        return;
      }
      if (fresh.innerHTML !== live.innerHTML) live.replaceChildren(...fresh.childNodes);
    } catch {
      // The service can't be reached: the next event or look tries again.
    } finally {
      asking = false;
    }
    if (again) {
      again = false;
      setTimeout(refresh, 500);
    }
  }

  if (live) {
    const events = new EventSource(live.dataset.events);
    let looking = 0;
    const heard = () => {
      clearInterval(looking);
      looking = 0;
    };
    events.addEventListener('open', heard);
    for (const kind of ['status', 'progress']) events.addEventListener(kind, refresh);
    events.addEventListener('ended', () => {
      events.close();
      location.reload();
    });
    events.addEventListener('error', () => {
      // No stream to be had: look every few seconds instead.
      if (!looking) looking = setInterval(refresh, 2000);
    });
    addEventListener('pagehide', () => events.close());
  }

  for (const part of document.querySelectorAll('[data-again]')) {
    setTimeout(() => {
      if (!document.hidden) location.reload();
    }, Number(part.dataset.again) * 1000);
  }

  for (const button of document.querySelectorAll('button.print')) {
    button.hidden = false;
    button.addEventListener('click', () => print());
  }

  // A second press while the first is under way does nothing.
  for (const form of document.querySelectorAll('form.once')) {
    form.addEventListener('submit', () => {
      setTimeout(() => {
        for (const button of form.querySelectorAll('button')) button.disabled = true;
      });
    });
  }
  addEventListener('pageshow', () => {
    for (const button of document.querySelectorAll('form.once button')) button.disabled = false;
  });
})();
