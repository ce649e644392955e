/* The trace: JSON lines. Each has "t", seconds since the start of the run.
 *   {"t":0.025,"frame":1,"universe":1,"wire":1,"slots":[[1,255],[2,128]]}
 *       the slots of a universe that changed in a frame, with their new levels 0..255; in the first frame of a run every
 *       universe that is sent has such a line, with all its slots that are not 0
 *   {"t":…,"event":"start","rate":40.0,"universes":[{"universe":1,"wire":1,"priority":100}]}
 *   {"t":…,"event":"ask","fixture":101,"question":"…"}            fixture: null when the question is about none
 *   {"t":…,"event":"answer","fixture":101,"answer":"yes"|"no"|"skip","note":"…"}
 *   {"t":…,"event":"say"|"told","text":"…"}                       what the script said; what the engine tells the crew
 *   {"t":…,"event":"guard","kind":"general"|"red","of":"cell"|"fixture"|"site","fixture":101,"cell":3,"site":"quay",
 *    "count":4,"from":0.0,"to":0.875,"text":"…"}                  cells count from 1; what does not apply is null
 *   {"t":…,"event":"end","result":"done"|"script"|"guard"|"interrupted"|"network"|"failed","text":"…"}
 *       the universes go back to their defaults after it */
#ifndef RIGCALL_ENGINE_TRACE_H
#define RIGCALL_ENGINE_TRACE_H

#include <jansson.h>

#include "engine_internal.h"

struct trace { FILE *file; uint8_t *before; bool begun, failed; };      /* file NULL: nothing is traced */

/** @return 0 or RIG_ENOMEM */
int trace_init(struct trace *trace, FILE *file, const struct engine *engine, struct rig_why *why);
void trace_fini(struct trace *trace);
void trace_frame(struct trace *trace, const struct engine *engine, uint64_t frame);
/** Write an event. @param fields  a jansson object, stolen; NULL (memory) makes the trace fail */
void trace_event(struct trace *trace, double time_s, const char *event, json_t *fields);
/** A JSON string of what is sound UTF-8 at the start of a text. */
json_t *trace_text(const char *text);
/** Flush. @return 0 or RIG_EIO when anything was not written */
int trace_end(struct trace *trace, struct rig_why *why);

#endif
