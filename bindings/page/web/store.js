// SPDX-License-Identifier: MIT
// The log of readings in the browser's own storage. Entries are only ever added, or marked as taken back, one to a record, so that tabs
// cannot write over one another and a tab that dies leaves whole entries. Nothing here knows the page.

const name = "arris";
const layout = 1; // of what is kept; a page that is older than what it finds writes nothing

/** The name that the log has for the edge or filament by which the tester is checked, which no setting has to have. */
export const checkEdge = "check edge";

/** A row of a readings file that is the same reading, apart from its number among those of its moment. */
export const momentKey = (row) => [row.code || row.edge || "", row.step ?? "", row.step ? "" : Number(row.passes || 0), row.operator ?? "", row.date ?? ""].join("\u0001");

/** The number that a reading gets among those of the same edge, moment, person and day: the least that is free. */
export function nextReplicate(rows, row) {
  const key = momentKey(row);
  const taken = new Set(rows.filter((r) => momentKey(r) === key).map((r) => Number(r.replicate || 1)));
  let n = 1;
  while (taken.has(n)) n += 1;
  return n;
}

let made = 0;
/** Names that no other tab gives: the hour, a count, chance. */
const newId = () => `${Date.now().toString(36).padStart(9, "0")}-${(made++).toString(36).padStart(4, "0")}-${Math.random().toString(36).slice(2, 10)}`;

const settled = (request) => new Promise((resolve, reject) => {
  request.onsuccess = () => resolve(request.result);
  request.onerror = () => reject(request.error);
});

/** A transaction that is on the disk when it ends. */
function ended(transaction) {
  return new Promise((resolve, reject) => {
    transaction.oncomplete = () => resolve();
    transaction.onabort = () => reject(transaction.error ?? new DOMException("the browser broke off", "AbortError"));
  });
}

function openAt(version) {
  return new Promise((resolve, reject) => {
    const request = version === undefined ? indexedDB.open(name) : indexedDB.open(name, version);
    request.onupgradeneeded = () => {
      for (const [store, options] of [["entries", { keyPath: "id" }], ["kept", { keyPath: "key" }]]) {
        if (!request.result.objectStoreNames.contains(store)) request.result.createObjectStore(store, options);
      }
    };
    request.onsuccess = () => resolve(request.result);
    request.onerror = () => reject(request.error);
    request.onblocked = () => reject(new DOMException("another tab holds the log", "InvalidStateError"));
  });
}

/** The log. `state`: "kept" in the browser, "newer" (written by a newer page: shown, and never written), or "unkept" (the browser keeps
 *  nothing here). `waiting` are entries that could not be kept and stand in this tab alone. */
export class Store {
  constructor() {
    this.entries = [];
    this.waiting = [];
    this.state = "unkept";
    this.why = "";
    this.db = null;
    this.changed = () => {};
  }

  /** Never throws: what goes wrong is in `state` and `why`. */
  async open() {
    try {
      this.db = await openAt(layout);
      this.state = "kept";
    } catch (error) {
      if (error?.name === "VersionError") await this.openNewer();
      else this.why = String(error?.message ?? error);
    }
    if (this.db) {
      this.db.onversionchange = () => { // a newer page wants to change the layout; what this tab has goes on standing in it
        this.db.close();
        this.db = null;
        this.state = "newer";
        this.changed();
      };
      await this.refresh();
    }
    if (typeof BroadcastChannel === "function") {
      this.channel = new BroadcastChannel("arris-log");
      this.channel.onmessage = () => this.refresh();
    }
    return this;
  }

  async openNewer() {
    this.state = "newer";
    try {
      this.db = await openAt(undefined);
    } catch (error) {
      this.why = String(error?.message ?? error);
    }
  }

  /** Reads anew what all tabs have written. */
  async refresh() {
    if (!this.db) return;
    try {
      const found = await settled(this.db.transaction("entries").objectStore("entries").getAll());
      this.entries = found.filter((e) => e !== null && typeof e === "object" && typeof e.row === "object" && e.row !== null);
    } catch (error) {
      this.why = String(error?.message ?? error);
    }
    this.changed();
  }

  /** All entries in their order, those that wait behind. */
  all() {
    return [...this.entries, ...this.waiting].sort((a, b) => (a.id < b.id ? -1 : 1));
  }

  /** Rows that count: those not taken back. */
  rows() {
    return this.all().filter((e) => !e.undone).map((e) => e.row);
  }

  /** One transaction for `work(entries, store)`, on the disk when this ends. Throws what the browser says. */
  async write(work) {
    if (this.state !== "kept" || !this.db) throw new DOMException("nothing is kept here", "InvalidStateError");
    const transaction = this.db.transaction("entries", "readwrite", { durability: "strict" });
    const done = ended(transaction);
    const store = transaction.objectStore("entries");
    try {
      work(await settled(store.getAll()), store);
    } catch (error) {
      done.catch(() => {}); // what is told is the first fault
      try {
        transaction.abort();
      } catch { /* it has ended already */ }
      throw error;
    }
    await done;
  }

  /** Adds rows; those without a number among their likes get one. Entries that the browser does not take wait in this tab, and are tried
   *  again with the next. The entries, in their order. */
  async add(rows, from = "entered") {
    const at = new Date().toISOString();
    const fresh = rows.map((row) => ({ id: newId(), at, from, layout, undone: false, row: { ...row } }));
    const number = (before) => {
      const known = before.filter((e) => !e.undone).map((e) => e.row);
      for (const entry of fresh) {
        if (entry.row.replicate === undefined) entry.row.replicate = String(nextReplicate(known, entry.row));
        known.push(entry.row);
      }
    };
    const waiting = this.waiting;
    try {
      await this.write((before, store) => {
        number([...before, ...waiting]);
        for (const entry of [...waiting, ...fresh]) store.put(entry);
      });
      this.waiting = [];
      this.why = "";
    } catch (error) {
      if (fresh.some((e) => e.row.replicate === undefined)) number(this.all());
      this.waiting = [...waiting, ...fresh];
      if (this.state === "kept") this.why = error?.name === "QuotaExceededError" ? "full" : String(error?.message ?? error);
    }
    await this.refresh();
    this.channel?.postMessage("added");
    if (!this.db) this.changed();
    return fresh;
  }

  /** Tries again to keep what waits. */
  async retry() {
    if (this.waiting.length > 0) await this.add([]);
  }

  /** Takes an entry back, or brings it back again. It stays in the log either way. */
  async mark(id, undone) {
    const waits = this.waiting.find((e) => e.id === id);
    if (waits) {
      waits.undone = undone;
      this.changed();
      return;
    }
    try {
      await this.write((before, store) => {
        const entry = before.find((e) => e.id === id);
        if (entry) store.put({ ...entry, undone });
      });
    } catch (error) {
      this.why = error?.name === "QuotaExceededError" ? "full" : String(error?.message ?? error);
    }
    await this.refresh();
    this.channel?.postMessage("marked");
  }

  // ---- small things that are kept beside the log: what is typed at the moment, the setting on the bench ----

  async keep(key, value) {
    if (this.state !== "kept" || !this.db) return false;
    try {
      const transaction = this.db.transaction("kept", "readwrite");
      const done = ended(transaction);
      if (value === null) transaction.objectStore("kept").delete(key);
      else transaction.objectStore("kept").put({ key, at: new Date().toISOString(), value });
      await done;
      return true;
    } catch {
      return false; // the log itself says what is wrong with the storage
    }
  }

  /** {key: {at, value}} of all keys that begin so. */
  async keptUnder(start) {
    if (!this.db) return {};
    try {
      const found = await settled(this.db.transaction("kept").objectStore("kept").getAll());
      return Object.fromEntries(found.filter((k) => k.key.startsWith(start)).map((k) => [k.key, k]));
    } catch {
      return {};
    }
  }
}

/** Which rows belong to edges and moments of a configuration (`moments` of the module), and which do not. */
export function suited(moments, rows) {
  const same = (a, b) => a.trim().toLowerCase() === b.trim().toLowerCase();
  const used = [], left = [];
  for (const row of rows) {
    const edge = moments.find((m) => (row.edge ? same(m.edge, row.edge) : row.code && m.code && same(m.code, row.code)));
    const most = edge?.steps.reduce((sum, s) => sum + (s.verb === "cut" ? s.passes : 0), 0);
    const fits = edge && (row.step ? edge.moments.some((m) => m.step && same(m.step, row.step)) : Number(row.passes || 0) <= most);
    (fits ? used : left).push(row);
  }
  return { used, left };
}
