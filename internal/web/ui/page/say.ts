// Telling the person: politely to those who listen, in a line at the foot to those who look.

import * as api from "../api"
import { byId, button, fill, h } from "./dom"
import { debounce } from "./signal"
import { Stopped } from "./work"

/** Speaks once things have come to rest. */
export const speak = debounce(700, (text: string) => { byId("spoken").textContent = text })

/** Tells that something has been done. */
export function tell(text: string) {
  speak(text)
  note(h("p", null, text), 6000)
}

/** Tells what went wrong and what to do about it. */
export function complain(e: unknown) {
  if (e instanceof Stopped || (e instanceof DOMException && e.name === "AbortError")) return
  const f = api.faultOf(e)
  note(h("div", null,
    h("p", null, h("strong", null, f.what)),
    f.remedy && h("p", null, sentence(f.remedy)),
    f.line ? h("p", null, `Line ${f.line}${f.column ? `, column ${f.column}` : ""}.`) : null), 0)
  byId("spoken").textContent = `${f.what} ${f.remedy ?? ""}`
}

export function sentence(t: string): string {
  const s = t.charAt(0).toUpperCase() + t.slice(1)
  return /[.!?]$/.test(s) ? s : s + "."
}

let timer = 0
function note(words: HTMLElement, ms: number) {
  const place = byId("notes")
  clearTimeout(timer)
  // What lies under an open window can neither be seen nor heard.
  const over = [...document.querySelectorAll("dialog[open]")].pop()
  if (place.parentElement !== (over ?? document.body)) {
    (over ?? document.body).append(place)
    over?.addEventListener("close", () => document.body.append(place), { once: true })
  }
  const close = () => fill(place)
  fill(place, h("div", { class: "slip" }, words, button("Close", close, { class: "quiet" })))
  if (ms > 0) timer = setTimeout(close, ms)
}

/** Does something that may fail, and complains when it does. */
export function attempt(what: () => Promise<unknown>): void {
  what().catch(complain)
}
