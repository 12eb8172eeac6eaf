// Cautions as the server lists them, and who has the last word.

import { h } from "./dom"

/** Cautions under a heading; nothing where there are none. */
export function cautionList(list: readonly string[]): Node[] {
  const all = [...new Set(list)]
  return all.length === 0 ? [] : [h("h3", null, "Mind"), h("ul", null, all.map(c => h("li", null, c)))]
}

/** Ends cautions of definitions, which come without it. */
export const lastWord = "The press maker's instructions, the suppliers' data sheets and the rules of the place have the last word; where safety is at stake, ask a licensed professional."
