// The two programs of the graphics card.
//
// "gather" runs when the view or a tile changes: it decodes the tiles, averages between texels where the screen asks for
// it, takes each place apart into a diffuse part and two lobes (package look, shade.go), and keeps that for each pixel of
// the screen. "light" runs for every frame: it lights what was kept. So a lamp that moves costs no decoding, and however
// many tiles lie over each other a pixel is lit once.
//
// Kept for each pixel: "body", four whole numbers, three of them two half floats each (diffuse red, green; blue, amplitude of the
// coat's lobe; brightest primary of the 45/0 colour, metal red) and the last four bytes (share with flakes in sight, code of
// the flakes' width, code of the coat's width, 255 where the sheet lies); and "metal", two half floats (metal green, blue), read
// where there is metal.
//
// Branches cost a software card nearly as much as what they skip, so that there are programs for the bench round the
// sheet, for cells of the screen without metal, and for cells with metal from afar and from near. Where the lamp stands is reckoned at the
// corners of rectangles: slopes of the half-way vector are nearly straight between them.

import { easyLeast, easyRoom } from "./gamut"
import { poisson } from "./glint"

/** A quad: u_quad is its left, top, width and height in pixels, y down; u_texel the same in texels. */
export const gatherVertex = `#version 300 es
uniform vec4 u_quad, u_texel;
uniform vec2 u_size;
out vec2 v_texel;
void main() {
  vec2 p = vec2(gl_VertexID & 1, gl_VertexID >> 1);
  v_texel = u_texel.xy + p * u_texel.zw;
  vec2 s = (u_quad.xy + p * u_quad.zw) / u_size * 2.0 - 1.0;
  gl_Position = vec4(s.x, -s.y, 0.0, 1.0);
}`

const surface = `
struct Surface { vec3 r45, metal; float share, flakes, coat; };

Surface texel(ivec2 p) {
  vec4 a = texelFetch(u_tile, ivec3(p, 0), 0), b = texelFetch(u_tile, ivec3(p, 1), 0), c = texelFetch(u_tile, ivec3(p, 2), 0);
  vec3 root = (a.rgb * 4080.0 + b.rgb * 15.9375 - 1024.0) / 2047.0;
  return Surface(root * abs(root), 2.0 * c.rgb * c.rgb, c.a, b.a * b.a, a.a * a.a);
}
`

const shine = `
Surface mean(Surface a, Surface b, Surface c, Surface d, vec4 w) {
  vec4 share = w * vec4(a.share, b.share, c.share, d.share);
  float sum = dot(share, vec4(1.0));
  Surface s;
  s.r45 = w.x * a.r45 + w.y * b.r45 + w.z * c.r45 + w.w * d.r45;
  s.metal = w.x * a.metal + w.y * b.metal + w.z * c.metal + w.w * d.metal;
  s.share = sum;
  s.flakes = sum > 0.0 ? dot(share, vec4(a.flakes, b.flakes, c.flakes, d.flakes)) / sum : 0.0;
  s.coat = dot(w, vec4(a.coat, b.coat, c.coat, d.coat));
  return s;
}

// pi D V of a lobe with the lamp at 45 degrees and the viewer straight above.
float measured(float alpha) {
  const float nl = 0.70710678, nh2 = 0.85355339;
  float a2 = alpha * alpha, k = 1.0 - a2, q = 1.0 - nh2 * k;
  return 0.5 * a2 / (q * q * (nl * sqrt(k + a2) + sqrt(nl * nl * k + a2)));
}
const float c5 = 2.5557e-6; // (1 - v.h)^5 there

void keep(Surface s) {
  float ma = max(s.flakes, 0.01), ca = max(s.coat, 0.01);
  vec3 metal = s.metal, left = s.r45;
  if (any(greaterThan(metal, vec3(0.0)))) {
    float lobe = measured(ma);
    vec3 seen = lobe * (metal + max(s.share - metal, 0.0) * c5) * vec3(greaterThan(metal, vec3(0.0)));
    vec3 most = max(s.r45, 0.0);
    metal *= mix(vec3(1.0), most / max(seen, 1e-9), greaterThan(seen, most));
    left -= lobe * (metal + max(s.share - metal, 0.0) * c5) * vec3(greaterThan(metal, vec3(0.0)));
  }
  float light = dot(left, vec3(0.2126, 0.7152, 0.0722));
  float full = (0.04 + 0.96 * c5) * measured(ca);
  float k = full > 0.9 * light ? max(0.0, 0.9 * light / full) : 1.0;
  vec3 diffuse = left - k * full;
  float brightest = max(s.r45.r, max(s.r45.g, s.r45.b));
  uvec3 bytes = uvec3(vec3(s.share, sqrt(s.flakes), sqrt(s.coat)) * 255.0 + 0.5);
  body = uvec4(packHalf2x16(diffuse.rg), packHalf2x16(vec2(diffuse.b, k)), packHalf2x16(vec2(brightest, metal.r)), bytes.x | bytes.y << 8 | bytes.z << 16 | 0xff000000u);
  rest = packHalf2x16(metal.gb);
}
`

const gatherHead = `#version 300 es
precision highp float;
precision highp int;
precision highp sampler2DArray;
uniform sampler2DArray u_tile;
uniform ivec2 u_last;
in vec2 v_texel;
layout(location = 0) out uvec4 body;
layout(location = 1) out uint rest;
`

/** One texel a pixel. */
export const gatherPlain = `${gatherHead}${surface}${shine}
void main() {
  keep(texel(clamp(ivec2(floor(v_texel)), ivec2(0), u_last)));
}`

/** The average of four texels spread over the pixel, for one much larger than a texel. */
export const gatherSpread = `${gatherHead}${surface}${shine}
uniform float u_spread;   // texels from the middle
void main() {
  ivec2 lo = clamp(ivec2(floor(v_texel - u_spread)), ivec2(0), u_last), hi = clamp(ivec2(floor(v_texel + u_spread)), ivec2(0), u_last);
  keep(mean(texel(lo), texel(ivec2(hi.x, lo.y)), texel(ivec2(lo.x, hi.y)), texel(hi), vec4(0.25)));
}`

/** The average of four texels by nearness; u_sharp above 1 narrows the way between them to that part of a texel. */
export const gatherSmooth = `${gatherHead}${surface}${shine}
uniform float u_sharp;
void main() {
  vec2 p = v_texel - 0.5, base = floor(p);
  vec2 f = clamp((p - base - 0.5) * u_sharp + 0.5, 0.0, 1.0);
  ivec2 lo = clamp(ivec2(base), ivec2(0), u_last), hi = clamp(ivec2(base) + 1, ivec2(0), u_last);
  vec4 w = vec4((1.0 - f.x) * (1.0 - f.y), f.x * (1.0 - f.y), (1.0 - f.x) * f.y, f.x * f.y);
  keep(mean(texel(lo), texel(ivec2(hi.x, lo.y)), texel(ivec2(lo.x, hi.y)), texel(hi), w));
}`

/** Rectangles of the screen, one an instance, and how the lamp stands to their corners. */
export const lightVertex = `#version 300 es
precision highp float;
layout(location = 0) in vec4 box; // left, top, right, bottom in pixels
uniform vec2 u_size;      // pixels
uniform vec2 u_middle;    // of the sheet, pixels, y down
uniform float u_mm;       // mm a pixel
uniform vec3 u_to, u_eye;
uniform float u_distance;
out vec4 v_lamp;          // slopes of the half-way vector, cosine of the lamp, 1 - cosine between viewer and half-way
void main() {
  vec2 px = mix(box.xy, box.zw, vec2(gl_VertexID & 1, gl_VertexID >> 1));
  vec3 to = u_to;
  if (u_distance > 0.0) to = normalize(u_to * u_distance - vec3((px.x - u_middle.x) * u_mm, (u_middle.y - px.y) * u_mm, 0.0));
  vec3 h = normalize(to + u_eye);
  v_lamp = vec4(h.xy / h.z, to.z, 1.0 - dot(h, u_eye));
  vec2 s = px / u_size * 2.0 - 1.0;
  gl_Position = vec4(s.x, -s.y, 0.0, 1.0);
}`

/** The bench with the shadow of the sheet; clear by that part of a pixel on which the sheet lies. */
export const benchFragment = `#version 300 es
precision highp float;
uniform vec2 u_size;
uniform vec3 u_bench;     // sRGB
uniform vec4 u_sheet;     // left, top, right, bottom in pixels
uniform vec4 u_shadow;    // way of the shadow in pixels, its softness, its depth
out vec4 colour;
void main() {
  vec2 at = vec2(gl_FragCoord.x, u_size.y - gl_FragCoord.y), px = at - u_shadow.xy;
  vec2 a = smoothstep(-u_shadow.z, u_shadow.z, px - u_sheet.xy), b = smoothstep(-u_shadow.z, u_shadow.z, u_sheet.zw - px);
  vec2 lies = clamp(min(at + 0.5, u_sheet.zw) - max(at - 0.5, u_sheet.xy), 0.0, 1.0);
  colour = vec4(u_bench * (1.0 - u_shadow.w * a.x * a.y * b.x * b.y), 1.0 - lies.x * lies.y);
}`

/** Numbers with a point, as GLSL wants them. */
const real = (v: number) => Number.isInteger(v) ? v.toFixed(1) : String(v)

const lightHead = `#version 300 es
precision highp float;
precision highp int;
precision highp usampler2D;
precision highp sampler3D;
uniform usampler2D u_body, u_metal;
uniform sampler2D u_poisson;
uniform sampler3D u_gamut;
uniform vec2 u_size;
uniform float u_nv;       // cosine of the viewer
uniform float u_strength, u_ambient, u_widening;
uniform vec4 u_glint;     // flakes a cell, steradians, cells per slope, 1 where there is glint
uniform vec3 u_cell;      // cells a pixel, and the place of pixel 0 in its cell
uniform ivec2 u_first;    // cell of pixel 0
uniform uint u_seed;
uniform vec2 u_fold;      // place of the fold line and width of its shadow in pixels; width 0: none
uniform vec3 u_bench;     // sRGB, where no tile is there yet
in vec4 v_lamp;
out vec4 colour;

// pi D V, weakened as a lamp weakens it that fills an angle.
float lobe(float alpha, float nl, float nh2) {
  float wide = min(1.0, alpha + u_widening), a2 = wide * wide, k = 1.0 - a2;
  float q = 1.0 - nh2 * k;
  vec2 s = sqrt(vec2(u_nv * u_nv, nl * nl) * k + a2);
  return 0.5 * alpha * alpha / (q * q * (nl * s.x + u_nv * s.y));
}
`

const mixing = `
uint mixed(uint v) {
  v = (v ^ v >> 16) * 0x7feb352du;
  v = (v ^ v >> 15) * 0x846ca68bu;
  return v ^ v >> 16;
}
`

const shards = `
// The cell of the nearest flake, each somewhere in its cell.
ivec2 shard(vec2 q) {
  vec2 base = floor(q), f = q - base;
  ivec2 cell = ivec2(base), best = cell;
  float least = 9.0;
  for (int j = -1; j <= 1; j++) {
    for (int i = -1; i <= 1; i++) {
      ivec2 c = cell + ivec2(i, j) + u_first;
      uint h = mixed(uint(c.x) * 0x85ebca77u ^ mixed(uint(c.y) * 0x9e3779b1u ^ u_seed));
      vec2 d = vec2(i, j) + vec2(h & 0xffu, h >> 8 & 0xffu) / 255.0 - f;
      float far = dot(d, d);
      if (far < least) {
        least = far;
        best = cell + ivec2(i, j);
      }
    }
  }
  return best + u_first;
}
`

const flicker = (shaped: boolean) => `
// One of the two means next to row, the nearer more often.
float slice(uint place, ivec2 cell, float row) {
  uint h = mixed(place ^ uint(cell.x) * 0x9e3779b1u ^ uint(cell.y) * 0x85ebca77u);
  return texelFetch(u_poisson, ivec2(h >> 24, int(row + float(h & 0xffffu) / 65536.0)), 0).r;
}

float flicker(vec2 px, float alpha, float share, float nh, vec2 slope) {
  float wide = min(1.0, alpha + u_widening), a2 = wide * wide, q = 1.0 - nh * nh * (1.0 - a2);
  float p = min(1.0, a2 / (3.14159265 * q * q) * nh * u_glint.y);
  float fine = exp2(19.931569 * clamp((0.2 - alpha) / 0.045, 0.0, 1.0));
  float mean = share * u_glint.x * p * fine;
  float spread = clamp((alpha - 0.15) / 0.05, 0.0, 1.0) * min(1.0, sqrt(${real(2 ** poisson.high)} / max(mean, 1.0)));
  float row = (clamp(log2(max(mean, 1e-6)), ${real(poisson.low)}, ${real(poisson.high)}) - (${real(poisson.low)})) * ${real(poisson.octave)};
  vec2 lie = px * u_cell.x + u_cell.yz;
  ivec2 at = ${shaped ? "shard(lie)" : "ivec2(floor(lie)) + u_first"};
  uint place = mixed(uint(at.x) * 0x9e3779b1u ^ mixed(uint(at.y) * 0x85ebca77u ^ u_seed));
  vec2 u = slope * u_glint.z + vec2(place & 0xffffu, place >> 16) / 65536.0;
  ivec2 cell = ivec2(floor(u));
  vec2 f = u - vec2(cell);
  f = f * f * (3.0 - 2.0 * f);
  float v = mix(mix(slice(place, cell, row), slice(place, cell + ivec2(1, 0), row), f.x),
                mix(slice(place, cell + ivec2(0, 1), row), slice(place, cell + ivec2(1), row), f.x), f.y);
  return 1.0 + spread * (v - 1.0);
}
`

const metals = `
  float share = float(body.w & 0xffu) / 255.0;
  if (share > 0.0) {
    vec3 metal = vec3(bm.y, unpackHalf2x16(texelFetch(u_metal, at, 0).r));
    float code = float(body.w >> 8 & 0xffu) / 255.0, ma = max(code * code, 0.01);
    if (fall > 0.0) {
      vec3 flakes = lobe(ma, nl, nh2) * (metal + max(share - metal, 0.0) * grazing) * vec3(greaterThan(metal, vec3(0.0))) * fall;
      if (u_glint.w > 0.0) flakes *= flicker(vec2(gl_FragCoord.x, u_size.y - gl_FragCoord.y), ma, share, sqrt(nh2), v_lamp.xy);
      light += flakes;
    }
    room += metal * max(0.35, 1.0 - 1.3 * ma * ma);
  }
`

/** The sheet where it is dull (no metal), shiny, or so near that flakes have shards' shapes. The gamut table's grid is told by its side
 * and the roots of its ends. */
export const lightFragment = (table: { side: number; from: number; to: number }, kind: "dull" | "shiny" | "shards") => `${lightHead}
${kind === "dull" ? "" : mixing + (kind === "shards" ? shards : "") + flicker(kind === "shards")}
void main() {
  ivec2 at = ivec2(gl_FragCoord.xy);
  uvec4 body = texelFetch(u_body, at, 0);
  vec2 rg = unpackHalf2x16(body.x), bk = unpackHalf2x16(body.y), bm = unpackHalf2x16(body.z);
  vec3 diffuse = vec3(rg, bk.x);
  float nl = v_lamp.z, nh2 = 1.0 / (1.0 + dot(v_lamp.xy, v_lamp.xy)), c2 = v_lamp.w * v_lamp.w, grazing = c2 * c2 * v_lamp.w;
  float fall = nl > 0.0 && u_nv > 0.0 ? u_strength : 0.0;
  float code = float(body.w >> 16 & 0xffu) / 255.0, ca = max(code * code, 0.01);
  vec3 room = diffuse + 0.04 * bk.y;
  vec3 light = (diffuse + bk.y * (0.04 + 0.96 * grazing) * lobe(ca, max(nl, 1e-3), nh2)) * fall;
${kind === "dull" ? "" : metals}
  light += u_ambient * room;

  float hi = max(light.r, max(light.g, light.b));
  float knee = max(0.85, bm.x * (fall + u_ambient));
  if (hi > knee && knee < 1.0) {
    float y = knee + (1.0 - knee) * (1.0 - exp((knee - hi) / (1.0 - knee)));
    light *= y / hi;
    hi = y;
  }
  float lo = min(light.r, min(light.g, light.b));
  vec3 shown, root = sqrt(abs(light));
  if (lo >= ${real(easyLeast)} * hi && hi + ${real(easyRoom)} * (hi - lo) <= 1.0) {
    // sRGB's curve within 0.01 of 255, by roots.
    vec3 fourth = sqrt(root);
    shown = mix(1.1226732 * root + 0.1961405 * fourth + (0.0813302 * light - 0.0646123) - 0.3354971 * root * fourth, 12.92 * light, lessThanEqual(light, vec3(0.0031308)));
  } else {
    root *= sign(light);
    shown = textureLod(u_gamut, (clamp((root - (${real(table.from)})) / ${real(table.to - table.from)}, 0.0, 1.0) * ${real(table.side - 1)} + 0.5) / ${real(table.side)}, 0.0).rgb;
  }
  if (u_fold.y > 0.0) {
    float d = 1.0 - (gl_FragCoord.x - u_fold.x) / u_fold.y;
    shown *= d > 0.0 && d <= 1.0 ? 1.0 - 0.4 * d * d : 1.0;
  }
  colour = vec4(body.w < 0xff000000u ? u_bench : shown, 1.0);
}`
