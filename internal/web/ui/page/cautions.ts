// Cautions as definitions write them, and who has the last word.

import type { StockInfo } from "../api"
import { h } from "./dom"

/** Cautions as they were written, and who has the last word. */
export function cautionList(list: readonly string[], stock?: StockInfo): (Node | null)[] {
  const all = [...new Set([...list, ...stockCautions(stock)])]
  if (all.length === 0) return []
  return [h("h3", null, "Mind"), h("ul", null, all.map(c => h("li", null, c))), h("p", { class: "aside" }, lastWord)]
}

export const lastWord = "The press maker's instructions, the suppliers' data sheets and the rules of the place have the last word; where safety is at stake, ask a licensed professional."

function stockCautions(k?: StockInfo): string[] {
  if (!k) return []
  const out: string[] = []
  if (k.surface === "film") out.push("Film shrinks, curls or melts where the fuser is too hot for it: ask for the heat it stands before the first sheet.")
  if (k.surface === "metallised") out.push("Metallised stock conducts: charge can jump or run off in the press. Use only what the press maker allows.")
  return out
}
