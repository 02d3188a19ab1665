import type { Page } from 'playwright-core'

/** What a person without a mouse would do. */

/** Presses Tab until a control of this name has the focus. */
export async function tabTo(page: Page, name: RegExp): Promise<void> {
  for (let step = 0; step < 250; step++) {
    await page.keyboard.press('Tab')
    const focused = await page.evaluate(() => {
      const at = document.activeElement as HTMLInputElement
      return (at.ariaLabel ?? at.labels?.[0]?.textContent ?? at.textContent ?? '').trim().replaceAll(/\s+/g, ' ')
    })
    if (name.test(focused)) return
  }
  throw new Error(`Tab never reached ${name}.`)
}

/** Goes to a control of this name and presses it. */
export async function use(page: Page, name: RegExp): Promise<void> {
  await tabTo(page, name)
  await page.keyboard.press('Enter')
}
