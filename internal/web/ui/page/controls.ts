// Controls that several parts of the page use.

import { h, newId } from "./dom"
import type { PressInfo } from "../api"
import type { Signal } from "./signal"
import { effect } from "./signal"
import { kindClass } from "./pictures"

/** A slider with its value in words. */
export function slider(words: string, value: Signal<number>, low: number, high: number, step: number, say: (v: number) => string): HTMLElement {
  const id = newId("slide")
  const out = h("output", { for: id })
  const input = h("input", { type: "range", id, min: low, max: high, step, oninput: () => value.set(input.valueAsNumber) })
  effect(() => {
    input.value = String(value())
    out.textContent = say(value())
    input.setAttribute("aria-valuetext", say(value()))
  })
  return h("div", { class: "slide" }, h("label", { for: id }, words), out, input)
}

export interface TonerChoice { name: string; kind: string; colour: string }

/** Toners of a press, each once, and its mixes. */
export function tonersOf(p: PressInfo | undefined, mixes: boolean): TonerChoice[] {
  const toners = (p?.toners ?? []).map(t => ({ name: t.name, kind: t.kind, colour: t.on_white }))
  return mixes ? [...toners, ...(p?.mixes ?? []).map(m => ({ name: m, kind: "mix", colour: "" }))] : toners
}

/** Toners to choose one of. */
export function tonerChoice(words: string, list: readonly TonerChoice[], value: Signal<string>): HTMLElement {
  const group = newId("toner")
  return h("fieldset", { class: "toners" }, h("legend", null, words), list.map(t => {
    const input = h("input", { type: "radio", name: group, value: t.name, onchange: () => value.set(t.name), "data-key": `${group}-${t.name}` })
    effect(() => { input.checked = value() === t.name })
    return h("label", { class: "toner" }, input, h("span", { class: `chip ${kindClass(t.kind)}`, css: t.colour ? { background: t.colour } : {} }), h("span", null, t.name))
  }))
}
