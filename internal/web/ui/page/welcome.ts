// The empty bench: bring a file, take up one that is here, or look at the example.

import * as api from "../api"
import * as st from "../state"
import { button, fill, h, plural } from "./dom"
import { chooseFile, coming, openExample } from "./files"
import { attempt } from "./say"
import { effect } from "./signal"
import { bytes } from "./words"

export function startWelcome(el: HTMLElement) {
  const here = h("div", { class: "here" })
  const onTheWay = h("div", { class: "on-the-way", role: "status" })
  fill(el,
    h("div", { class: "blank" },
      h("h1", null, "Lay a sheet on the bench"),
      h("p", null, "See white, metal and clear as they will lie on the real stock, find what would go wrong, and mend it."),
      h("div", { class: "row" }, button("Choose a PDF", chooseFile, { class: "main", "data-key": "choose" }), h("span", { class: "aside" }, "or drop it anywhere on this page")),
      onTheWay,
      h("p", { class: "aside" }, "It stays on this machine.")),
    h("div", { class: "tryout" },
      h("h2", null, "No file at hand?"),
      h("p", null, "A ticket for an evening at a planetarium: a photograph, silver, gold, clear and white on midnight-blue board."),
      h("div", { class: "row" },
        button("The ticket with faults", () => attempt(() => openExample(true)), { "data-key": "faulty" }),
        button("The ticket as it should be", () => attempt(() => openExample(false)), { "data-key": "sound" }))),
    here)
  effect(() => {
    const list = st.artworks()
    fill(here, list.length > 0 && [h("h2", null, "On the bench already"), h("ul", { class: "files" }, list.map(fileCard))])
  })
  effect(() => {
    fill(onTheWay, coming().map(c => h("div", { class: "job" },
      h("span", null, c.done < c.total ? `Bringing ${c.name}` : `Reading ${c.name}`),
      h("progress", { max: Math.max(1, c.total), value: c.done, "aria-label": `Bringing ${c.name}` }),
      button("Stop", c.stop, { class: "quiet", "aria-label": `Stop bringing ${c.name}` }))))
  })
}

function fileCard(a: api.Artwork): HTMLElement {
  const k = st.stockOf(a)
  return h("li", { class: "file" },
    button([st.laid(a) ? h("img", { src: api.thumbURL(a.id, 1, a.rev), alt: "", loading: "lazy" }) : h("span", { class: "no-thumb" }),
      h("strong", null, a.name),
      h("span", { class: "aside" }, [plural(a.pages, "page"), bytes(a.bytes), k?.title ?? "stock not chosen yet"].join(" · "))],
    () => st.open(a.id), { class: "file-open", "data-key": `file-${a.id}` }),
    button("Put away", () => attempt(async () => { await api.forget(a.id); st.drop(a.id) }), { class: "quiet", "aria-label": `Put away ${a.name}` }))
}
