/** The list by keys: j and k move between alarms, a acknowledges the one that is at hand. Enter opens it, as any link. */
export function alarmKeys(event: KeyboardEvent): void {
  const typing = (event.target as Element | null)?.matches?.('input, select, textarea');
  if (typing || event.ctrlKey || event.metaKey || event.altKey) return;
  const items = [...document.querySelectorAll('[data-alarm]')];
  const at = items.findIndex((item) => item.contains(document.activeElement));
  if (event.key === 'j' || event.key === 'k') {
    const next = items[Math.min(items.length - 1, Math.max(0, at + (event.key === 'j' ? 1 : -1)))];
    next?.querySelector<HTMLElement>('h3 a')?.focus();
    event.preventDefault();
  }
  if (event.key === 'a' && at >= 0) {
    items[at]?.querySelector<HTMLElement>('[data-acknowledge]')?.click();
    event.preventDefault();
  }
}
