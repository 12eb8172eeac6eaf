// What the page asks of the server, with the shapes of docs/api.md.

export interface Fault { what: string; remedy?: string; line?: number; column?: number }

/** A request the server could not carry out: its sentence and what to do about it. */
export class ApiError extends Error {
  constructor(readonly status: number, readonly fault: Fault) { super(fault.what) }
}

/** Sends a request; body is sent as JSON unless it is a Blob. */
export async function ask<T>(method: string, path: string, body?: unknown): Promise<T> {
  const init: RequestInit = { method }
  if (body instanceof Blob) {
    init.body = body
    init.headers = { "Content-Type": "application/octet-stream" }
  } else if (body !== undefined) {
    init.body = JSON.stringify(body)
    init.headers = { "Content-Type": "application/json" }
  }
  const res = await fetch(path, init)
  if (!res.ok) {
    const said = await res.json().catch(() => null) as { error?: Fault } | null
    throw new ApiError(res.status, said?.error ?? { what: `The server answered ${res.status}.` })
  }
  return (res.status === 204 ? undefined : await res.json()) as T
}

export interface State { version: string }

export const state = () => ask<State>("GET", "/api/state")
