// The lamp: a small sheet to tilt, and the same by sliders.

import * as st from "../state"
import { button, h, s } from "./dom"
import { effect } from "./signal"

const most = 60 // degrees of tilt the miniature reaches

export function lamp(): HTMLElement {
  const drawing = miniature()
  const slide = (id: string, words: string, low: number, high: number, read: (l: st.Light) => number, write: (l: st.Light, v: number) => st.Light, say: (v: number) => string) => {
    const value = h("output", { for: id })
    const input = h("input", { type: "range", id, min: low, max: high, step: 1, oninput: () => st.light.set(write(st.light.peek(), input.valueAsNumber)) })
    effect(() => {
      const v = read(st.light())
      input.value = String(Math.round(v))
      const words = say(Math.round(v))
      value.textContent = words
      input.setAttribute("aria-valuetext", words)
      input.disabled = !st.light().lit
    })
    return h("div", { class: "slide" }, h("label", { for: id }, words), value, input)
  }
  const towards = (plus: string, minus: string) => (v: number) => v === 0 ? "flat" : `${Math.abs(v)}° ${v > 0 ? plus : minus}`
  const measured = h("input", { type: "checkbox", role: "switch", onchange: () => st.light.set({ ...st.light.peek(), lit: !measured.checked }) })
  effect(() => { measured.checked = !st.light().lit })
  const rest = button("Lay flat", () => st.light.set({ ...st.restingLight, lit: st.light.peek().lit }), { class: "small" })
  effect(() => {
    const l = st.light(), r = st.restingLight
    rest.disabled = !l.lit || (l.tiltTop === 0 && l.tiltRight === 0 && l.up === r.up && l.round === r.round)
  })
  return h("section", { class: "lamp" }, h("h2", null, "The lamp"),
    h("div", { class: "lamp-row" }, drawing, h("div", { class: "slides" },
      slide("tilt-top", "Tilt up and down", -most, most, l => l.tiltTop, (l, v) => ({ ...l, tiltTop: v }), towards("to the lamp", "from the lamp")),
      slide("tilt-right", "Tilt to the sides", -most, most, l => l.tiltRight, (l, v) => ({ ...l, tiltRight: v }), towards("to the right", "to the left")),
      h("div", { class: "row" }, rock(), rest))),
    h("details", null, h("summary", null, "Move the lamp"),
      h("div", { class: "slides" },
        slide("lamp-up", "Height", 5, 90, l => l.up, (l, v) => ({ ...l, up: v }), v => `${v}°`),
        slide("lamp-round", "Place round the sheet", -180, 180, l => l.round, (l, v) => ({ ...l, round: v }), v => v === 0 ? "behind it" : `${Math.abs(v)}° ${v > 0 ? "to the right" : "to the left"}`))),
    film(), h("label", { class: "tick" }, measured, h("span", null, "As measured: flat light from 45°, nothing shines")))
}

/** Film can be looked at from behind. */
function film(): HTMLElement {
  const tick = h("input", { type: "checkbox", onchange: () => st.through.set(tick.checked) })
  const el = h("label", { class: "tick" }, tick, h("span", null, "From behind, through the film"))
  effect(() => {
    el.hidden = !st.sheet()?.film
    tick.checked = st.through()
  })
  return el
}

/** Rocks the sheet under the lamp for a few seconds, so that what shines is seen. */
function rock(): HTMLElement {
  let run = 0
  const stop = () => { cancelAnimationFrame(run); run = 0; b.textContent = "Rock it" }
  const b = button("Rock it", () => {
    if (run) { stop(); return }
    if (matchMedia("(prefers-reduced-motion: reduce)").matches) {
      st.light.set({ ...st.light.peek(), lit: true, tiltTop: st.light.peek().tiltTop === 20 ? -20 : 20 })
      return
    }
    const from = performance.now(), was = st.light.peek()
    let set = was
    b.textContent = "Hold still"
    const turn = (now: number) => {
      const t = (now - from) / 4500
      // What a hand set meanwhile stays.
      if (st.light.peek() !== set) { stop(); return }
      if (t >= 1) { st.light.set(was); stop(); return }
      const swing = Math.sin(t * Math.PI * 2) * 30
      st.light.set(set = { ...was, lit: true, tiltTop: was.tiltTop + swing, tiltRight: was.tiltRight + Math.sin(t * Math.PI * 4) * 12 })
      run = requestAnimationFrame(turn)
    }
    run = requestAnimationFrame(turn)
  }, { class: "small" })
  return b
}

/** The sheet in small, to be tilted by dragging. Sliders do the same, so it is not in the order of focus. */
function miniature(): HTMLElement {
  const sheet = s("polygon", { class: "mini-sheet" }), shine = s("polygon", { class: "mini-shine" }), shade = s("ellipse", { class: "mini-shade", cx: 60, cy: 66, rx: 40, ry: 8 })
  const bulb = s("circle", { class: "mini-bulb", r: 6 }), arm = s("line", { class: "mini-arm" })
  const drawing = s("svg", { viewBox: "0 0 120 84", "aria-hidden": "true" }, shade, arm, sheet, shine, bulb)
  const el = h("div", { class: "mini", title: "Drag to tilt the sheet" }, drawing)
  effect(() => {
    const l = st.light()
    const rad = Math.PI / 180
    const st_ = Math.sin(l.tiltTop * rad), ct = Math.cos(l.tiltTop * rad), sr = Math.sin(l.tiltRight * rad), cr = Math.cos(l.tiltRight * rad)
    const hw = 38, hh = 27
    // Seen from a little in front: y of the sheet goes up on the drawing, z towards the eye.
    const at = (x: number, y: number): [number, number] => {
      const y1 = y * ct, z1 = -y * st_
      const x2 = x * cr - z1 * -sr, z2 = x * -sr + z1 * cr
      const pitch = 0.72
      return [60 + x2, 50 - (y1 * pitch + z2 * 0.6)]
    }
    const corners = [at(-hw, hh), at(hw, hh), at(hw, -hh), at(-hw, -hh)]
    sheet.setAttribute("points", corners.map(c => c.map(v => v.toFixed(1)).join()).join(" "))
    const glint = l.lit ? Math.max(0, 1 - Math.hypot(l.tiltTop - 20, l.tiltRight) / 50) : 0
    shine.setAttribute("points", [at(-hw * 0.8, hh * 0.2), at(-hw * 0.5, hh * 0.2), at(hw * 0.1, -hh), at(-hw * 0.2, -hh)].map(c => c.join()).join(" "))
    shine.setAttribute("opacity", glint.toFixed(2))
    const bx = 60 + Math.sin(l.round * rad) * 46 * Math.cos(l.up * rad), by = 38 - Math.cos(l.round * rad) * 22 * Math.cos(l.up * rad) - Math.sin(l.up * rad) * 26
    bulb.setAttribute("cx", bx.toFixed(1))
    bulb.setAttribute("cy", Math.max(7, by).toFixed(1))
    arm.setAttribute("x1", bx.toFixed(1)); arm.setAttribute("y1", Math.max(7, by).toFixed(1))
    arm.setAttribute("x2", "60"); arm.setAttribute("y2", "50")
    bulb.classList.toggle("dim", !l.lit)
  })
  let from: { x: number; y: number; l: st.Light } | null = null
  el.addEventListener("pointerdown", e => {
    el.setPointerCapture(e.pointerId)
    from = { x: e.clientX, y: e.clientY, l: st.light.peek() }
    e.preventDefault()
  })
  el.addEventListener("pointermove", e => {
    if (!from) return
    const hold = (v: number) => Math.max(-most, Math.min(most, Math.round(v)))
    st.light.set({ ...from.l, lit: true, tiltTop: hold(from.l.tiltTop + (e.clientY - from.y) * 0.8), tiltRight: hold(from.l.tiltRight + (e.clientX - from.x) * 0.8) })
  })
  for (const end of ["pointerup", "pointercancel"]) el.addEventListener(end, () => { from = null })
  return el
}
