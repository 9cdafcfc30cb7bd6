/* What can be asked: spec/http.yaml, one row each. */
#include "runtime/service/page/acts.h"
#include "runtime/service/page/content.h"
#include "runtime/service/page/door.h"
#include "runtime/service/page/drafts.h"
#include "runtime/service/page/stream.h"
#include "runtime/service/page/text.h"

const Route ROUTES[] = {{"GET", "/state", ROLE_GUEST, 1, acts_state},
                        {"GET", "/events", ROLE_GUEST, 2, stream_events},
                        {"POST", "/acts", ROLE_OWNER, 2, acts_do},
                        {"GET", "/home", ROLE_GUEST, 2, content_get_home},
                        {"GET", "/home/text", ROLE_GUEST, 2, text_get},
                        {"PUT", "/home/text", ROLE_OWNER, 10, text_keep},
                        {"GET", "/home/versions", ROLE_GUEST, 1, text_versions},
                        {"GET", "/home/versions/*", ROLE_GUEST, 1, text_version},
                        {"POST", "/home/undo", ROLE_OWNER, 10, text_undo},
                        {"GET", "/routines/*/light", ROLE_GUEST, 4, content_get_light},
                        {"POST", "/drafts", ROLE_OWNER, 6, drafts_make},
                        {"GET", "/drafts/*/light", ROLE_OWNER, 4, drafts_light},
                        {"GET", "/drafts/*/events", ROLE_OWNER, 4, drafts_events},
                        {"POST", "/trials", ROLE_OWNER, 6, drafts_try},
                        {"DELETE", "/trials", ROLE_OWNER, 2, drafts_try_end},
                        {"GET", "/week", ROLE_GUEST, 10, content_get_week},
                        {"GET", "/calendar.ics", ROLE_GUEST, 10, content_get_calendar},
                        {"GET", "/me", ROLE_NOBODY, 1, door_me},
                        {"POST", "/pairing", ROLE_NOBODY, 10, door_show},
                        {"GET", "/sessions", ROLE_OWNER, 1, door_sessions},
                        {"POST", "/sessions", ROLE_NOBODY, 10, door_begin},
                        {"DELETE", "/sessions/*", ROLE_GUEST, 2, door_end},
                        {"POST", "/invitations", ROLE_OWNER, 4, door_invite},
                        {0}};
