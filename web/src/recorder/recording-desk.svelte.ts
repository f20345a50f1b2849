import type {
  RecordingAsk,
  RecordingPreview,
  RecordingReading,
  RecordingSaved,
  RecordingTaken,
} from '../../../shared/wire/recording-wire.ts';
import type { SiteDocument } from '../../../shared/wire/site-document.ts';
import { fetchAnswer, Refused, sendJson } from '../net/http.ts';

/** A recorder's file on the desk: chosen, looked into, its reading changed, taken in. Nothing is stored before that. */
export class RecordingDesk {
  readonly site: string;
  readonly panel: string;
  document = $state.raw<SiteDocument | null>(null);
  taken = $state.raw<readonly RecordingTaken[]>([]);
  preview = $state.raw<RecordingPreview | null>(null);
  saved = $state.raw<RecordingSaved | null>(null);
  refused = $state.raw<Refused | null>(null);
  busy = $state(false);
  names = $state.raw<readonly string[]>([]);
  #files: RecordingAsk['files'] = [];
  #asked = 0;

  constructor(site: string, panel: string) {
    this.site = site;
    this.panel = panel;
  }

  get #path(): string {
    return `/panels/${encodeURIComponent(this.site)}/${encodeURIComponent(this.panel)}/recordings`;
  }

  async load(): Promise<void> {
    await this.#try(async () => {
      const list = await fetchAnswer<{ items: RecordingTaken[] }>(this.#path);
      this.taken = list.items;
      this.document = await fetchAnswer<SiteDocument>(`/sites/${encodeURIComponent(this.site)}`);
    });
  }

  async choose(files: readonly File[]): Promise<void> {
    [this.preview, this.saved] = [null, null];
    this.names = files.map(({ name }) => name);
    this.#files = await Promise.all(
      files.map(async (file) => ({ name: file.name, content: await base64Of(file) })),
    );
    if (files.length > 0) await this.look({});
  }

  /** Looks into it, read in this way; an older question's answer is dropped. */
  async look(reading: RecordingReading): Promise<void> {
    const asked = ++this.#asked;
    this.saved = null;
    await this.#try(async () => {
      const preview = await sendJson<RecordingPreview>('POST', `${this.#path}/preview`, {
        files: this.#files,
        reading,
      });
      if (asked === this.#asked) this.preview = preview;
    });
  }

  async take(): Promise<void> {
    const { preview } = this;
    if (!preview) return;
    await this.#try(async () => {
      const { clock, offsetMinutes, start, voltages } = preview.reading;
      const reading = {
        clock,
        voltages,
        ...(offsetMinutes === undefined ? {} : { offsetMinutes }),
        ...(start === null ? {} : { start }),
      };
      this.saved = await sendJson<RecordingSaved>('POST', this.#path, { files: this.#files, reading });
      this.taken = (await fetchAnswer<{ items: RecordingTaken[] }>(this.#path)).items;
    });
  }

  async #try(work: () => Promise<void>): Promise<void> {
    [this.refused, this.busy] = [null, true];
    try {
      await work();
    } catch (error) {
      if (!(error instanceof Refused)) throw error;
      this.refused = error;
    } finally {
      this.busy = false;
    }
  }
}

async function base64Of(file: File): Promise<string> {
  const bytes = new Uint8Array(await file.arrayBuffer());
  let text = '';
  for (let at = 0; at < bytes.length; at += 8192)
    text += String.fromCharCode(...bytes.subarray(at, at + 8192));
  return btoa(text);
}
