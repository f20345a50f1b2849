/**
 * A room's place in time (contract section 6). Join first, then fetch: the answer carries {epoch, revision}. A frame is
 * in order when its epoch is the same and it follows the revision held; it is skipped when the fetched answer already
 * has it; anything else — a gap, a new server process — means fetch again.
 */
export interface RoomPlace {
  readonly epoch: string;
  readonly revision: number;
}
export interface FramePlace extends RoomPlace {
  /** the revision of the frame that this client had before it */
  readonly after: number;
}
export type FrameOrder = 'apply' | 'skip' | 'fetch-again';

export function frameOrder(held: RoomPlace | null, frame: FramePlace): FrameOrder {
  if (held === null) return 'skip'; // the answer is on its way and will have it
  if (frame.epoch !== held.epoch) return 'fetch-again';
  if (frame.revision <= held.revision) return 'skip';
  return frame.after <= held.revision ? 'apply' : 'fetch-again';
}
