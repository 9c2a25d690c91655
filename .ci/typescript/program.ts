// A program against the generated types, compiled and never run: what it says must follow from the description.

import createClient, { type Middleware } from "openapi-fetch";
import type { components, paths } from "./keyctl.js";

type Door = components["schemas"]["Door"];
type Problem = components["schemas"]["Problem"];

class Refused extends Error {
  constructor(readonly problem: Problem) {
    super(`${problem.title}: ${problem.detail}`);
  }
}

const bearer = (token: string): Middleware => ({
  onRequest({ request }) {
    request.headers.set("Authorization", `Bearer ${token}`);
    return request;
  },
});

export function keyctl(baseUrl: string, token: string) {
  const client = createClient<paths>({ baseUrl });
  client.use(bearer(token));
  return client;
}

type Client = ReturnType<typeof keyctl>;

/** Every door of a site, page by page. */
export async function* doors(client: Client, site: string): AsyncGenerator<Pick<Door, "id" | "number">> {
  let cursor: string | undefined;
  do {
    const { data, error } = await client.GET("/api/v1/doors/", {
      params: { query: { site, limit: 200, ...(cursor === undefined ? {} : { cursor }), fields: ["id", "number"] } },
    });
    if (error !== undefined) throw new Refused(error);
    for (const { id, number } of data.results) {
      if (id !== undefined && number !== undefined) yield { id, number };
    }
    cursor = data.next === null ? undefined : (new URL(data.next).searchParams.get("cursor") ?? undefined);
  } while (cursor !== undefined);
}

/** A change of the state that was read; whoever was overtaken sees how it stands now. */
export async function rename(client: Client, id: string, name: string): Promise<Door> {
  const read = await client.GET("/api/v1/doors/{id}/", { params: { path: { id } } });
  if (read.error !== undefined) throw new Refused(read.error);
  const { data, error } = await client.PATCH("/api/v1/doors/{id}/", {
    params: { path: { id }, header: { "If-Match": read.response.headers.get("ETag") ?? "" } },
    body: { name },
  });
  if (error !== undefined) throw new Refused(error);
  return data;
}

/** Many at once, each told by itself; the key makes it harmless to send again. */
export async function add(
  client: Client,
  items: components["schemas"]["NewDoor"][],
  key: string,
): Promise<{ made: Door[]; refused: Problem[] }> {
  const { data, error } = await client.POST("/api/v1/doors/bulk/", {
    params: { header: { "Idempotency-Key": `"${key}"` } },
    body: { items },
  });
  if (error !== undefined) throw new Refused(error);
  return {
    made: data.results.flatMap(({ value }) => (value === undefined ? [] : [value])),
    refused: data.results.flatMap(({ problem }) => (problem === undefined ? [] : [problem])),
  };
}

// Each of these is a mistake, and the compiler must find it.
export async function mistakes(client: Client, id: string): Promise<void> {
  // @ts-expect-error a change names the state it was made for
  await client.PATCH("/api/v1/doors/{id}/", { params: { path: { id } }, body: { name: "Plant" } });
  // @ts-expect-error many at once carry a key
  await client.POST("/api/v1/doors/bulk/", { body: { items: [] } });
  // @ts-expect-error no answer holds such a field
  await client.GET("/api/v1/cores/", { params: { query: { fields: ["pinning"] } } });
  // @ts-expect-error sites are not made by programs
  await client.POST("/api/v1/sites/", { body: {} });
}
