// SPDX-License-Identifier: MIT
// The source that precompiled headers belong to.
