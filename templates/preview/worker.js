// One for all pages of the preview that a browser shows: browsers keep few connections to one server, so this has the only
// one that stays open, and passes on what it hears.
"use strict";
/** What is known of each page, and the tabs that show it. */
const latest = new Map();
const tabs = new Map();

onconnect = ({ ports: [port] }) => {
  port.onmessage = ({ data: { page, gone } }) => {
    const shown = tabs.get(page) ?? new Set();
    if (gone) return shown.delete(port);
    tabs.set(page, shown.add(port));
    if (latest.has(page)) port.postMessage(latest.get(page));
  };
};

const events = new EventSource("/_preview/events");
events.onmessage = ({ data }) => {
  const state = JSON.parse(data);
  latest.set(state.page, state);
  for (const port of tabs.get(state.page) ?? []) port.postMessage(state);
};
events.onopen = () => toAll({ back: true });
events.onerror = () => toAll({ lost: true });

function toAll(message) {
  for (const shown of tabs.values()) for (const port of shown) port.postMessage(message);
}
