// The token is read at the moment of sending: one baked into a kept page goes stale.
export function csrfToken() {
  const pair = document.cookie.split("; ").find((part) => part.startsWith("csrftoken="));
  return pair ? decodeURIComponent(pair.slice("csrftoken=".length)) : "";
}
