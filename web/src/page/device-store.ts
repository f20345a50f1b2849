/** What this device keeps for itself. Where storage is refused it lasts as long as the page. */
export const kept = (key: string): string | null => {
  try {
    return localStorage.getItem(key);
  } catch {
    return null;
  }
};

/** The keys that begin so. */
export const keptKeys = (prefix: string): string[] => {
  try {
    return Object.keys(localStorage).filter((key) => key.startsWith(prefix));
  } catch {
    return [];
  }
};

export const keep = (key: string, value: string | null): void => {
  try {
    if (value === null) localStorage.removeItem(key);
    else localStorage.setItem(key, value);
  } catch {
    // refused, or full: as above
  }
};
