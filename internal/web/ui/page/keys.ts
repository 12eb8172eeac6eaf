// The list of keys.

import { button, h, newId } from "./dom"
import { signal } from "./signal"

const kept = "laydown-keys-on-sheet-only"
/** Single keys are heard only while the sheet has the focus. */
export const sheetOnly = signal(localStorage.getItem(kept) === "yes")

const list: [keys: string[], does: string][] = [
  [["←", "→", "↑", "↓"], "move the probe"],
  [["Shift", "←"], "move the sheet"],
  [["+", "−"], "nearer, farther"],
  [["0"], "the whole sheet"],
  [["n", "p"], "next and previous of what was found"],
  [["[", "]"], "previous and next page"],
  [["f"], "fold back to before"],
  [["m"], "measured light and back"],
  [["l"], "to the lamp; there arrows tilt the sheet"],
  [["Enter"], "take the object under the probe, when changing"],
  [["Ctrl", "z"], "take the last change back; with Shift, bring it again"],
  [["Esc"], "let go"],
  [["?"], "this list"],
]

export function openKeys() {
  const id = newId("keys")
  const only = h("input", { type: "checkbox", checked: sheetOnly.peek(), onchange: () => {
    sheetOnly.set(only.checked)
    localStorage.setItem(kept, only.checked ? "yes" : "no")
  } })
  const close = () => dlg.close()
  const dlg = h("dialog", { class: "keys", "aria-labelledby": id, onclose: () => dlg.remove() },
    h("div", { class: "dialog-head" }, h("h2", { id }, "Keys"), button("Close", close, { class: "quiet" })),
    h("dl", null, list.map(([keys, does]) => [h("dt", null, keys.map(k => h("kbd", null, k))), h("dd", null, does)]).flat()),
    h("label", { class: "tick" }, only, h("span", null, "Hear single keys only while the sheet has the focus")))
  document.body.append(dlg)
  dlg.showModal()
}
