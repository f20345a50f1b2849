import { open, type FileHandle } from 'node:fs/promises';
import { parse } from 'node:path';

/**
 * Lines that couldn't be taken, as they stood, in a file beside the one they came from and with its first line, so that
 * it can be imported once they are mended. Never over a file that is there.
 */
export class SetAside {
  readonly #beside: string;
  readonly #head: string;
  readonly #format: 'csv' | 'ndjson';
  #file: { readonly name: string; readonly handle: FileHandle } | null = null;
  #count = 0;

  constructor(beside: string, head: string, format: 'csv' | 'ndjson') {
    this.#beside = beside;
    this.#head = head;
    this.#format = format;
  }

  async add(line: string): Promise<void> {
    this.#file ??= await this.#open();
    await this.#file.handle.write(line + this.#lineEnd);
    this.#count++;
  }

  /** The name of the file; null: nothing was set aside. */
  async close(): Promise<string | null> {
    if (!this.#file) return null;
    if (this.#format === 'ndjson')
      await this.#file.handle.write(`${JSON.stringify({ end: true, rows: this.#count })}\n`);
    await this.#file.handle.close();
    return this.#file.name;
  }

  get #lineEnd(): string {
    return this.#format === 'csv' ? '\r\n' : '\n';
  }

  async #open(): Promise<{ name: string; handle: FileHandle }> {
    const { dir, name, ext } = parse(this.#beside);
    for (let n = 1; ; n++) {
      const path = `${dir === '' ? '' : `${dir}/`}${name}.set-aside${n === 1 ? '' : `-${n}`}${ext}`;
      try {
        const handle = await open(path, 'wx');
        await handle.write(this.#head + this.#lineEnd);
        return { name: path, handle };
      } catch (error) {
        if ((error as NodeJS.ErrnoException).code !== 'EEXIST') throw error;
      }
    }
  }
}
