// Ctrl-C as a wish and not as an end: what runs looks for it and stops where all is whole.
#pragma once

namespace strandproof::host {

// From now on. The second Ctrl-C ends the program at once.
void stop_on_interrupt();
[[nodiscard]] bool interrupted();

}  // namespace strandproof::host
